"""What was found about a piece, told to whoever is still to read its box: without the label's
number, which must not help that reading."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from pairing.findings import COPYING, Code, Finding
from pairing.findings.wording import HELD_BACK
from pairing.model import Judgment, Reading, Side
from pairing.numbers import printed

_THE_LABELS = "the label's number"


def without_label(judgment: Judgment, readings: Iterable[Reading]) -> Judgment:
    """The judgment with findings that do not tell the label's number, for showing while the
    box is still to be read."""
    # What was read in a place that tells nothing may be the label's number too.
    sides = (Side.LABEL, Side.UNPLACED)
    numbers = [one.number for one in readings if one.side in sides]
    texts, shown = {one.text for one in numbers}, {printed(one) for one in numbers}
    hidden = sorted((texts | shown) - {""}, key=len, reverse=True)
    return replace(
        judgment, findings=tuple(_masked(finding, hidden) for finding in judgment.findings)
    )


def _without_check_digit(finding: Finding) -> Finding:
    reason = dict(finding.parameters).get("reason")
    if isinstance(reason, Finding):
        return finding.with_parameters(reason=without_digits(reason))
    # It comes from the ledger, which keeps sentences only: none of them is shown.
    return Finding.of(
        Code.LABEL_CHECK_DIGIT,
        weight=finding.weight,
        positions=finding.positions,
        source="scan",
        number=_THE_LABELS,
        reason=Finding.of(Code.CHECK_DIGIT, title="number"),
    )


def _masked(finding: Finding, hidden: Sequence[str]) -> Finding:
    """The finding without these texts. A check digit that does not hold tells one digit, and
    the one that it should be; a comparison tells the digits of both at its place."""
    if finding.code in COPYING:
        return replace(finding, positions=(), parameters=(), stored=HELD_BACK)
    if finding.code == Code.CARD_NOT_DERIVED:
        finding = replace(finding, positions=())
    if finding.code == Code.LABEL_CHECK_DIGIT:
        finding = _without_check_digit(finding)

    def mask(text: str) -> str:
        for one in hidden:
            text = text.replace(one, _THE_LABELS)
        return text

    return finding.with_texts(mask)


def without_digits(reason: Finding) -> Finding:
    """A refusal without the digits that it tells: what a check digit is and should be."""
    if reason.code != Code.CHECK_DIGIT:
        return reason
    return reason.with_parameters(found=None, wanted=None, with_91=None)

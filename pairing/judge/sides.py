"""What each side of a piece says, taken by itself.

No function here sees another side's readings: what stands on the label must not help the
reading of the box, nor the other way round.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pairing.model import (
    Finding,
    How,
    Number,
    Reading,
    Rejection,
    Role,
    Side,
    TrackingNumber,
    Weight,
)
from pairing.numbers import printed

LOOK = "Look at the piece and read it again."


@dataclass(frozen=True, slots=True, kw_only=True)
class SideResult:
    """One side's number, if exactly one was read beyond doubt, and what is to be said.

    readings: the readings that agree on it (for the box: every legible reading).
    """

    number: TrackingNumber | None
    readings: tuple[Reading, ...]
    findings: tuple[Finding, ...]


def label(readings: Sequence[Reading]) -> SideResult:
    """The piece's one article number."""
    return _one_number(
        [reading for reading in readings if reading.side is Side.LABEL],
        Role.ARTICLE,
        nothing=Finding(
            code="label-unread",
            message="No article number was read on the label.",
            action="Scan or photograph the label again.",
            weight=Weight.DOUBT,
        ),
        several_code="two-articles",
        several="The piece bears more than one article number",
    )


def card(readings: Sequence[Reading]) -> SideResult:
    """The card's own number."""
    return _one_number(
        [reading for reading in readings if reading.side is Side.CARD],
        Role.CARD,
        nothing=Finding(
            code="card-unread",
            message="The card's own number was not read.",
            action="Scan or photograph the card again.",
            weight=Weight.DOUBT,
        ),
        several_code="two-cards",
        several="More than one card number was read",
    )


def box(readings: Sequence[Reading]) -> SideResult:
    """What stands in the box. `readings` are the legible ones, rejected numbers included:
    a number with a digit left out is read, and is another text than the label's. Bars that
    are no number were not read."""
    found = [reading for reading in readings if reading.side is Side.BOX]
    # Doubts about a number's family do not matter here: it is compared, not believed.
    findings = [finding for reading in found for finding in reading.findings]
    refused = [reading for reading in found if _bars_refused(reading)]
    findings += [_refused(reading, reading.number, Weight.DOUBT) for reading in refused]
    legible = [
        reading
        for reading in found
        if reading not in refused and not _doubted(reading) and reading.number.text
    ]
    texts = {reading.number.text for reading in legible}
    if not legible:
        findings.append(
            Finding(
                code="box-unread",
                message="What stands in the card's box was not read.",
                action="Read the box on the card and key it.",
                weight=Weight.DOUBT,
            )
        )
    if len(texts) > 1:
        shown = " and ".join(sorted({f"{printed(r.number)} (by {r.how.value})" for r in legible}))
        findings.append(
            Finding(
                code="box-says-two-things",
                message=f"The box was read in two ways: {shown}.",
                action=LOOK,
                weight=Weight.DOUBT,
            )
        )
    one = legible[0].number if len(texts) == 1 else None
    return SideResult(
        number=one if isinstance(one, TrackingNumber) else None,
        readings=tuple(legible),
        findings=tuple(findings),
    )


def unplaced(readings: Sequence[Reading]) -> tuple[Finding, ...]:
    """Article numbers whose side is not known: none of them may count for either. Numbers
    of another role are only named."""
    doubtful = tuple(
        Finding(
            code="place-in-doubt",
            message=f"{printed(reading.number)} was read in {reading.source}, where its place "
            "does not tell whether it stands on the label or in the box.",
            action="Photograph label and card apart, or key what stands in the box.",
            weight=Weight.DOUBT,
        )
        for reading in readings
        if reading.side is Side.UNPLACED and _may_be_article(reading)
    )
    named = tuple(
        Finding(
            code="other-number",
            message=f"{reading.source}: {printed(number)} is a {number.family.title}, "
            "no article or card number.",
        )
        for reading in readings
        if isinstance(number := reading.number, TrackingNumber) and number.role is Role.OTHER
    )
    return doubtful + named


def _may_be_article(reading: Reading) -> bool:
    if isinstance(reading.number, Rejection):
        return bool(reading.number.likely)
    return reading.number.role is Role.ARTICLE


def _one_number(
    readings: Sequence[Reading],
    role: Role,
    *,
    nothing: Finding,
    several_code: str,
    several: str,
) -> SideResult:
    findings = [finding for reading in readings for finding in _remarks(reading)]
    good: dict[str, TrackingNumber] = {}
    kept: list[Reading] = []
    for reading in readings:
        number = reading.number
        if isinstance(number, Rejection):
            # Another barcode on the envelope is nobody's business.
            weight = Weight.DOUBT if number.likely else Weight.NOTE
            findings.append(_refused(reading, number, weight))
        elif number.role is role and not reading.in_doubt:
            good.setdefault(number.text, number)
            kept.append(reading)
            if reading.how is How.KEYED:
                findings.append(_keyed(reading))
    if not good:
        findings.append(nothing)
    if len(good) > 1:
        shown = " and ".join(printed(number) for number in good.values())
        findings.append(
            Finding(
                code=several_code,
                message=f"{several}: {shown}.",
                action=LOOK,
                weight=Weight.DOUBT,
            )
        )
    return SideResult(
        number=next(iter(good.values())) if len(good) == 1 else None,
        readings=tuple(kept),
        findings=tuple(findings),
    )


def _remarks(reading: Reading) -> tuple[Finding, ...]:
    """What was said of the reading and of its number."""
    own = reading.number.findings if isinstance(reading.number, TrackingNumber) else ()
    return (*reading.findings, *own)


def _doubted(reading: Reading) -> bool:
    return any(finding.weight is Weight.DOUBT for finding in reading.findings)


def _bars_refused(reading: Reading) -> bool:
    """A strip that was scanned badly, or another barcode, says nothing about the box."""
    number = reading.number
    if reading.how is not How.BARCODE or isinstance(number, Rejection):
        return reading.how is How.BARCODE
    return reading.in_doubt or number.role not in (Role.ARTICLE, Role.CARD)


def _refused(reading: Reading, number: Number, weight: Weight) -> Finding:
    positions: tuple[int, ...] = ()
    if isinstance(number, TrackingNumber):
        said = " ".join(one.message for one in number.findings if one.weight is Weight.DOUBT)
        number_code, action = "unclear", LOOK
        said = said or f"This is a {number.family.title}."
    else:
        number_code, positions, action = number.code, number.positions, number.action
        said = number.message
    return Finding(
        code=f"{reading.side.value}-{number_code}",
        message=f"{reading.source}: {printed(number) or 'nothing'}: {said}",
        positions=positions,
        action=action,
        weight=weight,
    )


def _keyed(reading: Reading) -> Finding:
    return Finding(
        code=f"{reading.side.value}-keyed",
        message=f"The {reading.side.value}'s number was keyed by a person, not scanned.",
    )

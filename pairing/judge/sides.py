"""What each side of a piece says, taken by itself.

No function here sees another side's readings: what is on the label must not help the
reading of the box, nor the other way round.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pairing.findings import Code, Finding, Weight, refused
from pairing.model import How, Number, Reading, Rejection, Role, Side, TrackingNumber
from pairing.numbers import printed


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
        nothing=Code.LABEL_UNREAD,
        several=Code.TWO_ARTICLES,
    )


def card(readings: Sequence[Reading]) -> SideResult:
    """The card's own number."""
    return _one_number(
        [reading for reading in readings if reading.side is Side.CARD],
        Role.CARD,
        nothing=Code.CARD_UNREAD,
        several=Code.TWO_CARDS,
    )


def box(readings: Sequence[Reading]) -> SideResult:
    """What is written in the box. `readings` are the legible ones, rejected numbers included:
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
        findings.append(Finding.of(Code.BOX_UNREAD))
    if len(texts) > 1:
        said = sorted({(printed(one.number), one.how.value) for one in legible})
        numbers, means = zip(*said, strict=True)
        findings.append(Finding.of(Code.BOX_SAYS_TWO_THINGS, numbers=numbers, means=means))
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
        Finding.of(Code.PLACE_IN_DOUBT, number=printed(reading.number), source=reading.source)
        for reading in readings
        if reading.side is Side.UNPLACED and _may_be_article(reading)
    )
    named = tuple(
        Finding.of(
            Code.OTHER_NUMBER,
            source=reading.source,
            number=printed(number),
            title=number.family.title,
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
    nothing: Code,
    several: Code,
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
                findings.append(Finding.of(_KEYED[reading.side]))
    if not good:
        findings.append(Finding.of(nothing))
    if len(good) > 1:
        shown = tuple(printed(number) for number in good.values())
        findings.append(Finding.of(several, numbers=shown))
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
    shown = printed(number)
    if isinstance(number, Rejection):
        return Finding.of(
            refused(reading.side.value, Code.named(number.code)),
            weight=weight,
            positions=number.positions,
            source=reading.source,
            number=shown,
            reason=number.reason,
        )
    return Finding.of(
        Code.BOX_UNCLEAR,
        source=reading.source,
        number=shown,
        title=number.family.title,
        reasons=tuple(one for one in number.findings if one.weight is Weight.DOUBT),
    )


_KEYED = {
    Side.LABEL: Code.LABEL_KEYED,
    Side.CARD: Code.CARD_KEYED,
}

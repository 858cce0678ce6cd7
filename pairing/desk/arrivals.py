"""What arrives at a desk: scans and keyed numbers as readings, and what is told of them."""

from __future__ import annotations

from dataclasses import dataclass

from pairing.findings import Finding
from pairing.judge.without_label import without_digits
from pairing.model import How, Reading, Rejection, Role, Scan, Side, TrackingNumber
from pairing.numbers import card22


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """One thing that arrived, told without its digits: the box is still to be read blind.

    title: what kind of number it is, "" for none. counts: whether it is the number of its
    side. findings: what is to be said of it, the reason of a refusal first.
    """

    side: Side
    how: How
    title: str
    counts: bool
    findings: tuple[Finding, ...] = ()


def is_refused(reading: Reading) -> bool:
    """Whether a scan was meant for its side and came out wrong; another barcode on the envelope
    was not meant for it."""
    number = reading.number
    return reading.in_doubt or (isinstance(number, Rejection) and bool(number.likely))


def is_cut_from(text: str, number: str) -> bool:
    """Whether a scan that came out wrong is this number with one stretch of it lost: its
    beginning, its end, or characters inside, of which half at least are left."""
    if not text or len(text) >= len(number):
        return False
    if number.startswith(text) or number.endswith(text):
        return True
    if 2 * len(text) < len(number):
        return False
    lost = len(number) - len(text)
    return any(number[:at] + number[at + lost :] == text for at in range(len(text) + 1))


def likely_side(scan: Scan) -> Side:
    """The side that a scanned number belongs to by its form, or most resembles."""
    number = scan.number
    if isinstance(number, TrackingNumber):
        sides = {Role.ARTICLE: Side.LABEL, Role.CARD: Side.CARD}
        return sides.get(number.role, Side.UNPLACED)
    return Side.CARD if number.likely == card22.FAMILY.name else Side.LABEL


def reading_of(scan: Scan, side: Side, how: How) -> Reading:
    """A scan or a keyed number as a reading. A strip is scanned at a time and in a place of its
    own, and its source says so."""
    source = "strip" if side is Side.BOX else "scan"
    return Reading(
        side=side,
        how=how,
        number=scan.number,
        source="keyed" if how is How.KEYED else source,
        findings=scan.findings,
    )


def heard_of(reading: Reading) -> Heard:
    """What to tell of a reading."""
    number = reading.number
    findings = reading.findings
    counts = not reading.in_doubt and isinstance(number, TrackingNumber)
    if reading.side is Side.BOX and reading.how is How.KEYED:
        counts = not reading.in_doubt and bool(number.text)
    elif isinstance(number, Rejection):
        findings = (without_digits(number.reason), *findings)
    return Heard(
        side=reading.side,
        how=reading.how,
        title="" if isinstance(number, Rejection) else number.family.title,
        counts=counts and reading.side is not Side.UNPLACED,
        findings=findings,
    )

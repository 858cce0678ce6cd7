"""The one piece that the clerk has in hand."""

from __future__ import annotations

from dataclasses import dataclass, field

from pairing.findings import Code, Finding
from pairing.model import Reading, Role, Side, TrackingNumber


@dataclass(slots=True)
class Hand:
    """What was read so far. suggested: for a doubted scan, the text that it would be if its
    question were answered with yes. strip_is_next: the next scan is the strip's."""

    readings: list[Reading] = field(default_factory=list)
    found: list[Finding] = field(default_factory=list)
    suggested: dict[str, str] = field(default_factory=dict)
    last_line: str = ""
    strip_is_next: bool = False
    _sides: set[Side] = field(default_factory=set)
    _texts: set[str] = field(default_factory=set)

    def has(self, side: Side) -> bool:
        """Whether that side was read beyond doubt."""
        return side in self._sides

    def knows(self, text: str) -> bool:
        """Whether a number was read on this piece already."""
        return text in self._texts

    def add(self, reading: Reading) -> None:
        """Take a reading; a cut-short or unclear one of the same number is forgotten."""
        if not reading.in_doubt and isinstance(reading.number, TrackingNumber):
            self._forgive(reading)
            self._sides.add(reading.side)
        elif reading.side is Side.BOX and not reading.in_doubt and reading.number.text:
            self._sides.add(reading.side)
        self._texts.add(reading.number.text)
        self.readings.append(reading)

    def _forgive(self, whole: Reading) -> None:
        """A scan that was cut short says nothing once the whole number is read, if it is a
        piece of that very number; otherwise it may have been another label's."""
        kept = [one for one in self.readings if not self._is_part_of(one, whole)]
        if len(kept) == len(self.readings):
            return
        self.readings = kept
        self.found.append(Finding.of(Code.SCANNED_AGAIN, side=whole.side.value))

    def _is_part_of(self, part: Reading, whole: Reading) -> bool:
        if not part.in_doubt or part.side is not whole.side:
            return False
        text, number = part.number.text, whole.number.text
        cut = number.startswith(text) or number.endswith(text)
        return (bool(text) and cut) or self.suggested.get(text) == number


def side_of(reading_number: object, likely_card: bool) -> Side:
    """The side that a scanned number belongs to by its role."""
    if isinstance(reading_number, TrackingNumber):
        sides = {Role.ARTICLE: Side.LABEL, Role.CARD: Side.CARD}
        return sides.get(reading_number.role, Side.UNPLACED)
    return Side.CARD if likely_card else Side.LABEL

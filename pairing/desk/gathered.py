"""What was read so far on the piece in hand."""

from __future__ import annotations

from dataclasses import dataclass, field

from pairing.desk.arrivals import is_cut_from, is_refused
from pairing.findings import Code, Finding
from pairing.model import How, Reading, Side, TrackingNumber


@dataclass(slots=True)
class Gathered:
    """readings: in their order. found: what is to be said of the piece. suggested: for a
    doubted scan, the text that it would be if its question were answered with yes. sides: those
    read beyond doubt. last_line: the last scan as it came. has_beside: whether more is known
    than was read, such as a date. is_strip_refused: the strip was announced too early, so that the
    next scan may be the strip's though it looks like the label's. other_label: another label's
    number that was scanned before the box, asked about and not answered for. is_lenient: a
    refused scan may be of whatever comes next, as long as nothing else is known; so it is with a
    returned card, whose next scan is its own."""

    is_lenient: bool = False
    readings: list[Reading] = field(default_factory=list)
    found: list[Finding] = field(default_factory=list)
    suggested: dict[str, str] = field(default_factory=dict)
    sides: set[Side] = field(default_factory=set)
    last_line: str = ""
    strip_is_next: bool = False
    has_beside: bool = False
    is_strip_refused: bool = False
    other_label: Reading | None = None

    @property
    def is_empty(self) -> bool:
        """Whether nothing was read, and nothing is to be said."""
        return not (self.readings or self.found)

    def number(self, side: Side) -> TrackingNumber | None:
        """The first whole number that was read on that side."""
        for reading in self.readings:
            if reading.side is side and isinstance(reading.number, TrackingNumber):
                return reading.number
        return None

    def has(self, reading: Reading) -> bool:
        """Whether the same was read on the same side before."""
        return any(
            one.side is reading.side and one.number.text == reading.number.text
            for one in self.readings
        )

    def is_other(self, reading: Reading) -> bool:
        """Whether this is another number than that side's, be that one whole or not."""
        if not is_beyond_doubt(reading) or self.has(reading):
            return False
        mine = [one for one in self.readings if one.side is reading.side]
        return any(
            is_beyond_doubt(one) or (is_refused(one) and not self._is_part(one, reading))
            for one in mine
        )

    def add(self, reading: Reading) -> None:
        """Take a reading; a cut-short or unclear one of the same number is forgotten."""
        if is_beyond_doubt(reading):
            self._forgive(reading)
            self.sides.add(reading.side)
            if reading.side is Side.CARD:  # it has a number after all
                self.found = [one for one in self.found if one.code != Code.NUMBERLESS_CONFIRMED]
        elif reading.side is Side.BOX and not reading.in_doubt and reading.number.text:
            self.sides.add(reading.side)
        self.readings.append(reading)

    def take_back_keyed(self, side: Side, *, but: str) -> None:
        """What was keyed for that side does not count: it is keyed again. but: the new text."""
        keyed = [one for one in self.readings if one.side is side and one.how is How.KEYED]
        if not keyed:
            return
        self.readings = [one for one in self.readings if one not in keyed]
        if not any(one.side is side for one in self.readings):
            self.sides.discard(side)
        if any(one.number.text != but for one in keyed):
            self.found.append(Finding.of(Code.SCANNED_AGAIN, side=side.value))

    def _forgive(self, whole: Reading) -> None:
        """A scan that was cut short says nothing once the whole number is read, if it is a
        piece of that very number; otherwise it may have been another label's."""
        kept = [one for one in self.readings if not self._is_part(one, whole)]
        if len(kept) == len(self.readings):
            return
        self.readings = kept
        if not self.is_lenient:
            self.found.append(Finding.of(Code.SCANNED_AGAIN, side=whole.side.value))

    def _is_part(self, part: Reading, whole: Reading) -> bool:
        if part.side is not whole.side or not is_refused(part):
            return False
        if self.is_lenient and Side.BOX not in self.sides and not self.has_beside:
            return True
        text, number = part.number.text, whole.number.text
        return is_cut_from(text, number) or self.suggested.get(text) == number


def is_beyond_doubt(reading: Reading) -> bool:
    """Whether a whole number was read, and surely."""
    return isinstance(reading.number, TrackingNumber) and not reading.in_doubt

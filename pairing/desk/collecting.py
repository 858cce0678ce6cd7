"""What is read at the counter is collected until a piece is finished.

Nothing is guessed: a second label or card before the piece is finished ends it, and belongs
to no piece until it is scanned again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from pairing.desk.answers import Heard
from pairing.desk.hand import Hand, side_of
from pairing.desk.lookup import without_digits
from pairing.findings import Code, Finding
from pairing.model import How, Reading, Rejection, Scan, Side, TrackingNumber
from pairing.numbers import card22
from pairing.wedge import WedgeSetup, parse_keyed, parse_line

Placed = Callable[[Reading], Reading]
"""Puts a scan on the side that records give it, where its own form does not tell."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Collected:
    """A piece that is to be judged.

    readings: its own. besides: read while it was in hand, and belonging to nobody knows
    which piece. found: what is to be said of it.
    """

    readings: tuple[Reading, ...]
    besides: tuple[Reading, ...] = ()
    found: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What came of one entry; see `answers.Answer`."""

    heard: tuple[Heard, ...] = ()
    remarks: tuple[str, ...] = ()
    done: tuple[Collected, ...] = ()


class Collecting:
    """The piece in hand, and how it grows."""

    def __init__(self, setup: WedgeSetup, placed: Placed) -> None:
        self._setup = setup
        self._placed = placed
        self._hand = Hand()
        self._doubtful = ""
        """The last scan, where the same once more may be a double read that would pass for
        something else: for the beginning of the next piece, or, of a strip, for the label."""

    @property
    def is_empty(self) -> bool:
        """Whether nothing was read on the piece in hand."""
        return not self._hand.readings

    @property
    def label(self) -> TrackingNumber | None:
        """The label's number, for the records alone: it is not to be shown."""
        for reading in self._hand.readings:
            if reading.side is Side.LABEL and isinstance(reading.number, TrackingNumber):
                return reading.number
        return None

    @property
    def card(self) -> str | None:
        """The card's own number, if it was read."""
        for reading in self._hand.readings:
            if reading.side is Side.CARD and isinstance(reading.number, TrackingNumber):
                return reading.number.text
        return None

    def missing(self) -> tuple[Side, ...]:
        """The sides that are not read yet."""
        sides = (Side.LABEL, Side.CARD, Side.BOX)
        return tuple(side for side in sides if not self._hand.has(side))

    def scan(self, text: str) -> Taken:
        """Take what a scanner sent."""
        if self._hand.strip_is_next:
            return self.strip(text)
        line = text.strip()
        if line and line == self._hand.last_line:
            self._hand.found.append(Finding.of(Code.DOUBLE_READ))
            return Taken(remarks=("The same scan came twice; it counts once.",))
        if line and line == self._doubtful:
            self._doubtful = ""
            message = "The same scan came twice; if it is meant, scan it once more."
            return Taken(remarks=(message,))
        heard: list[Heard] = []
        done: list[Collected] = []
        for scan in parse_line(text, self._setup):
            reading = self._placed(_reading(scan, _likely_side(scan), How.BARCODE))
            heard.append(_heard(reading))
            if self._is_second(reading):
                done.append(self._stopped_by(reading))
                line = ""
                continue
            self._hand.add(reading)
            if scan.suggested:
                self._hand.suggested[scan.text] = scan.suggested
            self._hand.last_line = line
            done += self._done_if_whole()
        self._doubtful = line if done else ""
        return Taken(heard=tuple(heard), done=tuple(done))

    def strip(self, text: str) -> Taken:
        """Take the scan of the strip in the box; with an empty text the next scan is it."""
        if not text.strip():
            self._hand.strip_is_next = True
            return Taken(remarks=("Scan the strip in the box.",))
        self._hand.strip_is_next = False
        scans = parse_line(text, self._setup)
        if len(scans) != 1:
            return Taken(remarks=(self._unclear_strip(len(scans)),))
        taken = self._add_box(_reading(scans[0], Side.BOX, How.BARCODE))
        self._doubtful = text.strip()
        return taken

    def key(self, side: Side, text: str) -> Taken:
        """Take what a person keyed as the number on that side (label, card or box)."""
        if not text.strip():
            return Taken(remarks=(f"Key the number after the word: {side.value} NUMBER.",))
        self._hand.strip_is_next, self._doubtful = False, ""
        scan = parse_keyed(text)
        reading = _reading(scan, side, How.KEYED)
        if side is Side.BOX:
            return self._add_box(reading)
        natural = self._placed(replace(reading, side=_likely_side(scan)))
        if isinstance(scan.number, Rejection) or natural.side is not side or reading.in_doubt:
            # A slip of the keys says nothing about the piece.
            return Taken(heard=(replace(_heard(reading), counts=False),))
        if self._is_second(reading):
            return Taken(heard=(_heard(reading),), done=(self._stopped_by(reading),))
        self._hand.add(reading)
        return Taken(heard=(_heard(reading),), done=self._done_if_whole())

    def see(self, readings: Sequence[Reading]) -> Taken:
        """Take what was read in one picture, each with the side that it stands on. What this
        piece has already, another picture of it shows again."""
        heard: list[Heard] = []
        done: list[Collected] = []
        for reading in map(self._placed, readings):
            if any(
                one.side is reading.side and one.number.text == reading.number.text
                for one in self._hand.readings
            ):
                continue
            heard.append(_heard(reading))
            if self._is_second(reading):
                done.append(self._stopped_by(reading))
            else:
                self._hand.add(reading)
        return Taken(heard=tuple(heard), done=(*done, *self._done_if_whole()))

    def finish(self) -> tuple[Collected, ...]:
        """The piece ends here, if anything was read on it."""
        hand, self._hand = self._hand, Hand()
        self._doubtful = ""
        if not hand.readings:
            return ()
        return (Collected(readings=tuple(hand.readings), found=tuple(hand.found)),)

    def forget(self) -> None:
        """Start the piece anew."""
        self._hand, self._doubtful = Hand(), ""

    def _add_box(self, reading: Reading) -> Taken:
        self._hand.add(reading)
        return Taken(heard=(_heard(reading),), done=self._done_if_whole())

    def _done_if_whole(self) -> tuple[Collected, ...]:
        return () if self.missing() else self.finish()

    def _is_second(self, reading: Reading) -> bool:
        return (
            reading.side in (Side.LABEL, Side.CARD)
            and self._hand.has(reading.side)
            and isinstance(reading.number, TrackingNumber)
            and not reading.in_doubt
            and not any(
                one.side is reading.side and one.number.text == reading.number.text
                for one in self._hand.readings
            )
        )

    def _stopped_by(self, reading: Reading) -> Collected:
        (piece,) = self.finish()
        code = Code.SECOND_LABEL if reading.side is Side.LABEL else Code.SECOND_CARD
        finding = Finding.of(code)
        return replace(piece, besides=(reading,), found=(*piece.found, finding))

    def _unclear_strip(self, count: int) -> str:
        finding = Finding.of(Code.STRIP_UNCLEAR, count=count)
        self._hand.found.append(finding)
        return f"{finding.message} {finding.action}"


def _likely_side(scan: Scan) -> Side:
    rejection = scan.number if isinstance(scan.number, Rejection) else None
    return side_of(scan.number, rejection is not None and rejection.likely == card22.FAMILY.name)


def _reading(scan: Scan, side: Side, how: How) -> Reading:
    return Reading(
        side=side,
        how=how,
        number=scan.number,
        source="keyed" if how is How.KEYED else "scan",
        findings=scan.findings,
    )


def _heard(reading: Reading) -> Heard:
    number = reading.number
    said = [finding.message for finding in reading.findings]
    codes = [finding.code for finding in reading.findings]
    title = "" if isinstance(number, Rejection) else number.family.title
    counts = not reading.in_doubt and isinstance(number, TrackingNumber)
    if reading.side is Side.BOX and reading.how is How.KEYED:
        counts = not reading.in_doubt and bool(number.text)
    elif isinstance(number, Rejection):
        said.insert(0, _refusal(number))
        codes.insert(0, number.code)
    return Heard(
        side=reading.side,
        how=reading.how,
        title=title,
        counts=counts and reading.side is not Side.UNPLACED,
        said=tuple(said),
        codes=tuple(codes),
    )


def _refusal(number: Rejection) -> str:
    """Why it was refused, without a digit of it."""
    return without_digits(number.reason).message

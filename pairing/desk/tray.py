"""Scans in any order become pieces, each with its verdict.

Roles are told by the numbers themselves. The box is the exception: a second scan of the
label and a scan of the strip look alike, so the strip has to be announced.
"""

from __future__ import annotations

from dataclasses import dataclass

from pairing.desk.entries import Entry, EntryKind, parse_entry
from pairing.desk.hand import Hand, side_of
from pairing.findings import Code, Finding
from pairing.judge import judge
from pairing.model import (
    EarlierUse,
    How,
    Judgement,
    Reading,
    Rejection,
    Scan,
    Side,
    TrackingNumber,
    Verdict,
)
from pairing.numbers import card22
from pairing.wedge import WedgeSetup, parse_keyed, parse_line

_DEFAULT = WedgeSetup()


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayPiece:
    """A finished piece: its place in the run, counted from 1, what was read, the verdict.

    is_again: the same piece was finished before, and something came after.
    """

    index: int
    readings: tuple[Reading, ...]
    judgement: Judgement
    is_again: bool = False


class Tray:
    """Takes lines, gives finished pieces.

    A piece is finished when label, card and box are read, at a blank line or `next`, when the
    label or card of another one comes after a whole pair, or at the end. What is keyed or
    scanned for the box right after that still counts for the same piece: its verdict is given
    again.
    """

    def __init__(self, setup: WedgeSetup = _DEFAULT) -> None:
        self._setup = setup
        self._hand = Hand()
        self._closed: Hand | None = None
        self._agreed: list[EarlierUse] = []
        self._articles: dict[str, str] = {}
        self._count = 0
        self.remarks: tuple[str, ...] = ()
        """What to tell the clerk about the last line, besides a verdict."""

    def take(self, line: str) -> tuple[TrayPiece, ...]:
        """Take one line; the pieces that it finished, usually none or one."""
        self.remarks = ()
        entry = parse_entry(line)
        match entry.kind:
            case EntryKind.NEXT:
                self._closed = None
                return self.close()
            case EntryKind.AGAIN:
                self._hand, self._closed = Hand(), None
                self.remarks = ("This piece starts anew.",)
                return ()
            case EntryKind.STRIP if not entry.text:
                self._hand.strip_is_next = True
                self.remarks = ("Scan the strip in the box.",)
                return ()
            case EntryKind.BOX:
                return self._take_box(entry.text)
            case EntryKind.STRIP:
                return self._take_strip(entry)
            case _ if self._hand.strip_is_next:
                return self._take_strip(entry)
            case _:
                return self._take_scans(entry)

    def missing(self) -> tuple[Side, ...]:
        """The sides of the piece in hand that are not read yet."""
        sides = (Side.LABEL, Side.CARD, Side.BOX)
        return tuple(side for side in sides if not self._hand.has(side))

    def close(self) -> tuple[TrayPiece, ...]:
        """Finish the piece in hand, if anything was read on it."""
        hand, self._hand = self._hand, Hand()
        if not hand.readings:
            return ()
        self._count += 1
        return (self._judged(hand, is_again=False),)

    def _judged(self, hand: Hand, *, is_again: bool) -> TrayPiece:
        name = f"piece {self._count}"
        judgement = judge(
            hand.readings,
            earlier=[use for use in self._agreed if use.piece != name],
            others={text: piece for text, piece in self._articles.items() if piece != name},
            found=hand.found,
        )
        if judgement.article:
            self._articles.setdefault(judgement.article, name)
        # Only a sealed piece has used up its numbers; one that failed may be tried again.
        self._agreed = [use for use in self._agreed if use.piece != name]
        if judgement.verdict is Verdict.AGREES:
            self._agreed.append(
                EarlierUse(piece=name, article=judgement.article, card=judgement.card)
            )
        return TrayPiece(
            index=self._count,
            readings=tuple(hand.readings),
            judgement=judgement,
            is_again=is_again,
        )

    def _take_box(self, text: str) -> tuple[TrayPiece, ...]:
        if not text.strip():
            self.remarks = ("Type what stands in the box after the word: box NUMBER.",)
            return ()
        return self._add_box(_reading(parse_keyed(text), Side.BOX, How.KEYED))

    def _take_strip(self, entry: Entry) -> tuple[TrayPiece, ...]:
        self._hand.strip_is_next = False
        scans = parse_line(entry.text, self._setup)
        if len(scans) == 1:
            return self._add_box(_reading(scans[0], Side.BOX, How.BARCODE))
        finding = Finding.of(Code.STRIP_UNCLEAR, count=len(scans))
        self._hand.found.append(finding)
        self.remarks = (f"{finding.message} {finding.action}",)
        return ()

    def _add_box(self, reading: Reading) -> tuple[TrayPiece, ...]:
        if self._closed is not None and not self._hand.readings:
            self._closed.add(reading)
            return (self._judged(self._closed, is_again=True),)
        self._hand.add(reading)
        self._remark(reading)
        return self._close_if_whole()

    def _take_scans(self, entry: Entry) -> tuple[TrayPiece, ...]:
        line = entry.text.strip()
        if line == self._hand.last_line:
            self._hand.found.append(Finding.of(Code.DOUBLE_READ))
            self.remarks = ("The same scan came twice; it counts once.",)
            return ()
        finished: list[TrayPiece] = []
        for scan in parse_line(entry.text, self._setup):
            likely_card = isinstance(scan.number, Rejection) and (
                scan.number.likely == card22.FAMILY.name
            )
            reading = _reading(scan, side_of(scan.number, likely_card), How.BARCODE)
            if self._begins_another(reading):
                finished += self.close()
            self._closed = None
            self._hand.add(reading)
            if scan.suggested:
                self._hand.suggested[scan.text] = scan.suggested
            self._remark(reading)
            finished += self._close_if_whole()
        self._hand.last_line = line
        return tuple(finished)

    def _begins_another(self, reading: Reading) -> bool:
        """A label or card that comes after a whole pair, and is not one of that pair."""
        return (
            self._hand.has(Side.LABEL)
            and self._hand.has(Side.CARD)
            and reading.side in (Side.LABEL, Side.CARD)
            and isinstance(reading.number, TrackingNumber)
            and not self._hand.knows(reading.number.text)
        )

    def _remark(self, reading: Reading) -> None:
        """Say what arrived, without its digits: the box is still to be read blind."""
        number = reading.number
        said = [finding.message for finding in reading.findings]
        if isinstance(number, Rejection):
            said.insert(0, f"Not counted: {number.message}")
        elif reading.side is Side.UNPLACED:
            said.insert(0, f"Not counted: this is a {number.family.title}.")
        else:
            said.insert(0, f"{reading.side.value} read")
        self.remarks += tuple(said)

    def _close_if_whole(self) -> tuple[TrayPiece, ...]:
        if self.missing():
            return ()
        hand = self._hand
        finished = self.close()
        self._closed = hand
        return finished


def _reading(scan: Scan, side: Side, how: How) -> Reading:
    return Reading(
        side=side,
        how=how,
        number=scan.number,
        source="keyed" if how is How.KEYED else "scan",
        findings=scan.findings,
    )

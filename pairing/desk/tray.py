"""The piece in the clerk's hands: scans in any order become one piece, then its verdict.

Roles are told by the numbers themselves. The box is the exception: a second scan of the
label and a scan of the strip look alike, so the strip has to be announced.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from pairing.desk.entries import Entry, EntryKind, parse_entry
from pairing.judge import judge
from pairing.model import (
    EarlierUse,
    Finding,
    How,
    Judgement,
    Reading,
    Role,
    Scan,
    Side,
    TrackingNumber,
    Weight,
)
from pairing.numbers import card22
from pairing.wedge import WedgeSetup, parse_keyed, parse_line

_DEFAULT = WedgeSetup()


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayPiece:
    """A finished piece: its place in the run, counted from 1, what was read, the verdict."""

    index: int
    readings: tuple[Reading, ...]
    judgement: Judgement


@dataclass(slots=True)
class _InHand:
    readings: list[Reading] = field(default_factory=list)
    found: list[Finding] = field(default_factory=list)
    last_line: str = ""
    strip_is_next: bool = False

    def has(self, side: Side) -> bool:
        return any(
            reading.side is side
            and not _doubted(reading)
            and (side is Side.BOX or isinstance(reading.number, TrackingNumber))
            for reading in self.readings
        )


class Tray:
    """Takes lines, gives finished pieces. A piece is finished when label, card and box are
    read, at a blank line or `next`, when the label or card of another one comes after a
    whole pair, or at the end."""

    def __init__(self, setup: WedgeSetup = _DEFAULT) -> None:
        self._setup = setup
        self._hand = _InHand()
        self._earlier: list[EarlierUse] = []
        self._count = 0

    def take(self, line: str) -> tuple[TrayPiece, ...]:
        """Take one line; the pieces that it finished, usually none or one."""
        entry = parse_entry(line)
        if entry.kind is EntryKind.NEXT:
            return self.close()
        if entry.kind is EntryKind.STRIP and not entry.text:
            self._hand.strip_is_next = True
            return ()
        if entry.kind is EntryKind.BOX:
            self._add(_reading(parse_keyed(entry.text), Side.BOX, How.KEYED))
        elif entry.kind is EntryKind.STRIP or self._hand.strip_is_next:
            self._take_strip(entry)
        else:
            return self._take_scans(entry)
        return self._close_if_whole()

    def missing(self) -> tuple[Side, ...]:
        """The sides of the piece in hand that are not read yet."""
        sides = (Side.LABEL, Side.CARD, Side.BOX)
        return tuple(side for side in sides if not self._hand.has(side))

    def close(self) -> tuple[TrayPiece, ...]:
        """Finish the piece in hand, if anything was read on it."""
        hand, self._hand = self._hand, _InHand()
        if not hand.readings:
            return ()
        self._count += 1
        judgement = judge(
            hand.readings,
            earlier=self._earlier,
            others={use.article: use.piece for use in self._earlier if use.article},
            found=hand.found,
        )
        self._earlier.append(
            EarlierUse(piece=f"piece {self._count}", article=judgement.article, card=judgement.card)
        )
        return (TrayPiece(index=self._count, readings=tuple(hand.readings), judgement=judgement),)

    def _take_strip(self, entry: Entry) -> None:
        self._hand.strip_is_next = False
        scans = parse_line(entry.text, self._setup)
        if len(scans) == 1:
            self._add(_reading(scans[0], Side.BOX, How.BARCODE))
            return
        self._hand.found.append(
            Finding(
                code="strip-unclear",
                message=f"{len(scans)} scans arrived where the strip's one was awaited; "
                "none of them counts.",
                action="Scan the strip again.",
                weight=Weight.DOUBT,
            )
        )

    def _take_scans(self, entry: Entry) -> tuple[TrayPiece, ...]:
        if entry.text.strip() == self._hand.last_line:
            self._hand.found.append(
                Finding(code="double-read", message="The same scan came twice; it counts once.")
            )
            return ()
        finished: list[TrayPiece] = []
        for scan in parse_line(entry.text, self._setup):
            reading = _reading(scan, _side_of(scan), How.BARCODE)
            if self._begins_another(reading):
                finished += self.close()
            self._add(reading)
            finished += self._close_if_whole()
        self._hand.last_line = entry.text.strip()
        return tuple(finished)

    def _begins_another(self, reading: Reading) -> bool:
        """A label or card that comes after a whole pair, and is not one of that pair."""
        if not (self._hand.has(Side.LABEL) and self._hand.has(Side.CARD)):
            return False
        known = {one.number.text for one in self._hand.readings}
        return (
            reading.side in (Side.LABEL, Side.CARD)
            and isinstance(reading.number, TrackingNumber)
            and reading.number.text not in known
        )

    def _add(self, reading: Reading) -> None:
        hand = self._hand
        doubted = [one for one in hand.readings if one.side is reading.side and _doubted(one)]
        if doubted and not _doubted(reading):
            # A scan that was cut short says nothing about the item once it is read again.
            hand.readings = [one for one in hand.readings if one not in doubted]
            hand.found.append(
                Finding(
                    code="scanned-again",
                    message=f"The {reading.side.value} came unclear at first and was read again.",
                )
            )
        hand.readings.append(reading)

    def _close_if_whole(self) -> tuple[TrayPiece, ...]:
        return () if self.missing() else self.close()


def _reading(scan: Scan, side: Side, how: How) -> Reading:
    return Reading(
        side=side,
        how=how,
        number=scan.number,
        source="keyed" if how is How.KEYED else "scan",
        findings=scan.findings,
    )


def _side_of(scan: Scan) -> Side:
    if isinstance(scan.number, TrackingNumber):
        sides = {Role.ARTICLE: Side.LABEL, Role.CARD: Side.CARD}
        return sides.get(scan.number.role, Side.UNPLACED)
    return Side.CARD if scan.number.likely == card22.FAMILY.name else Side.LABEL


def _doubted(reading: Reading) -> bool:
    return any(finding.weight is Weight.DOUBT for finding in reading.findings)

"""What belongs to one piece in hand, and what comes of an entry about it.

A second scan of the label is never the box: a strip says the same number, so no program can tell
them apart, and the clerk announces the strip. A number typed without a word counts for nothing,
and nothing attaches to a piece after its verdict, except a box keyed or scanned right after it.
Only sealed pieces use up their numbers, so that looking again can succeed. A correction reads the
whole piece again and refers to the entry; it is recorded as such, since the label's number had
been seen. A double read of the strip, or of the scan that finished a piece, counts only when it
comes once more.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from pairing.desk.arrivals import Heard
from pairing.desk.remarks import Remark
from pairing.findings import Finding
from pairing.model import Reading, Side


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """What belongs to one piece.

    sides: what makes it whole. is_box_last: the box is taken once the others are read. ends: it
    ends once it is whole. is_followed: a second one's own number begins the next.
    """

    sides: tuple[Side, ...]
    is_box_last: bool
    ends: bool
    is_followed: bool


PIECE = Rules(
    sides=(Side.LABEL, Side.CARD, Side.BOX), is_box_last=True, ends=True, is_followed=False
)
DECLARED = replace(PIECE, is_box_last=False)
"""Whoever sends it says that it is one piece: nothing of it can be another's."""
RETURNED = Rules(sides=(Side.CARD, Side.BOX), is_box_last=False, ends=False, is_followed=True)
"""A card that came back: date and name may follow the box."""


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
    """What came of one entry."""

    heard: tuple[Heard, ...] = ()
    remarks: tuple[Remark, ...] = ()
    done: tuple[Collected, ...] = ()

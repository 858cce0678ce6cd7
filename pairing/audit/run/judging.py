"""One piece judged with what is known around it, in whatever process it is done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

import msgspec

from pairing.audit.run.listing import Listing, Piece
from pairing.audit.run.photo_line import PhotoLine
from pairing.audit.run.records import Records
from pairing.audit.run.rows import (
    Row,
    RowContext,
    RowFinding,
    RowMatch,
    RowRecord,
    piece_of_lines,
    row_of,
)
from pairing.model import EarlierUse

_MOST_OTHERS = 8
"""A few tell the story; a stack of equal photos must not cost its square."""


class Joining(msgspec.Struct, frozen=True, kw_only=True):
    """How a piece's photos came together, in a bag. is_apart: its label and card are not known
    to belong together. found: what is to be said of it."""

    match: RowMatch | None = None
    is_apart: bool = False
    found: tuple[RowFinding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgingTask:
    """All that judging one piece takes, small enough to be sent."""

    name: str
    is_declared: bool
    lines: tuple[PhotoLine, ...]
    context: RowContext


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What the lot is held against: an expected list, a ledger, both or neither. strictness:
    of decisions on what is read by its shape (`judge.box.STRICTNESS`)."""

    records: Records = field(default_factory=Records)
    strictness: str = "1e-4"

    def of(self, piece: Piece, listing: Listing) -> RowContext:
        """What can touch this piece."""
        joining = msgspec.json.decode(piece.about, type=Joining) if piece.about else Joining()
        record = self.records.of(piece.article, piece.card)
        days = sorted({line.day for line in piece.lines if line.day})
        return RowContext(
            expected=self.records.expected(piece.article, piece.card),
            earlier=_earlier(piece, listing),
            others=_others(piece, listing),
            found=(*(one.read_back for one in joining.found), *record.findings),
            is_apart=joining.is_apart,
            match=joining.match,
            record=RowRecord(state=record.state, entry=record.entry) if record.state else None,
            desk=record.desk or _folder(piece.lines),
            day=record.day or (days[0] if days else ""),
            strictness=self.strictness,
        )


def task_of(piece: Piece, context: RowContext) -> JudgingTask:
    """The task of one piece."""
    return JudgingTask(
        name=piece.name, is_declared=piece.is_declared, lines=piece.lines, context=context
    )


def judged(task: JudgingTask, _: Path) -> Row:
    """The piece's row."""
    piece = piece_of_lines(task.name, task.lines, is_declared=task.is_declared)
    return row_of(piece, task.context, task.lines)


def _earlier(piece: Piece, listing: Listing) -> tuple[EarlierUse, ...]:
    """Other pieces that share this one's article or card number, each once."""
    if not piece.shares:
        return ()
    return tuple(
        EarlierUse(piece=f"piece {other.name}", article=other.article, card=other.card)
        for other in listing.sharing(piece, _MOST_OTHERS)
    )


def _others(piece: Piece, listing: Listing) -> dict[str, str]:
    """Words for the other pieces whose numbers its box was read as."""
    # Its own number is another piece's too only where they share it; so nearly no piece asks.
    asked = (text for text in piece.boxes if piece.shares or text != piece.article)
    found = {text: listing.bearer(text, piece.place) for text in asked}
    return {text: words for text, words in found.items() if words is not None}


def _folder(lines: Sequence[PhotoLine]) -> str:
    """The folder that the piece's first photo lies in: desks keep theirs apart."""
    parent = PurePosixPath(lines[0].photo).parent.as_posix() if lines else "."
    return "" if parent == "." else parent

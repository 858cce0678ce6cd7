"""One piece judged with what is known around it, in whatever process it is done."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any

from pairing.audit.run.index import Index, Piece
from pairing.audit.run.records import Records
from pairing.audit.run.rows import Around, piece_of_lines, row_of
from pairing.findings import Finding, Weight
from pairing.model import EarlierUse

_MOST_OTHERS = 8
"""A few tell the story; a stack of equal photos must not cost its square."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgingTask:
    """All that judging one piece takes, small enough to be sent."""

    name: str
    is_declared: bool
    lines: tuple[Mapping[str, Any], ...]
    around: Around


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What the lot is held against: an expected list, a ledger, both or neither. strictness:
    of decisions on what is read by its shape (`decide.STRICTNESS`)."""

    records: Records = field(default_factory=Records)
    strictness: str = "1e-4"

    def around(self, piece: Piece, index: Index) -> Around:
        """What can touch this piece."""
        about: dict[str, Any] = json.loads(piece.about) if piece.about else {}
        record = self.records.of(piece.article, piece.card)
        days = index.days(piece.place)
        return Around(
            expected=self.records.expected(piece.article, piece.card),
            earlier=_earlier(piece, index),
            others={
                text: words
                for text in piece.boxes
                if (words := index.bearer(text, piece.place)) is not None
            },
            found=(*_findings(about), *record.findings),
            is_apart=bool(about.get("is_apart")),
            match=about.get("match"),
            record=record.as_members(),
            desk=record.desk or _folder(index, piece),
            day=record.day or (days[0] if days else ""),
            strictness=self.strictness,
        )


def task_of(piece: Piece, lines: Sequence[Mapping[str, Any]], around: Around) -> JudgingTask:
    """The task of one piece."""
    return JudgingTask(
        name=piece.name, is_declared=piece.is_declared, lines=tuple(lines), around=around
    )


def row_text(task: JudgingTask, _: Path) -> str:
    """The piece's row as JSON."""
    piece = piece_of_lines(task.name, task.lines, is_declared=task.is_declared)
    return json.dumps(row_of(piece, task.around, task.lines))


def _earlier(piece: Piece, index: Index) -> tuple[EarlierUse, ...]:
    """Other pieces that share this one's article or card number, each once."""
    return tuple(
        EarlierUse(piece=f"piece {other.name}", article=other.article, card=other.card)
        for other in index.sharing(piece, _MOST_OTHERS)
    )


def _findings(about: Mapping[str, Any]) -> tuple[Finding, ...]:
    return tuple(
        Finding.read_back(
            one["code"],
            message=one["message"],
            action=one["action"],
            weight=Weight(one["weight"]),
        )
        for one in about.get("findings", ())
    )


def _folder(index: Index, piece: Piece) -> str:
    """The folder that the piece's first photo lies in: desks keep theirs apart."""
    members = index.members(piece.place)
    parent = PurePosixPath(members[0].photo).parent.as_posix() if members else "."
    return "" if parent == "." else parent

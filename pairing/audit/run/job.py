"""What is asked of a run, and what comes of it."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pairing.audit.run.review import Decisions
from pairing.audit.run.run_store import Head, Store
from pairing.audit.run.sources import Source
from pairing.errors import OutputRefused, TableUnusable
from pairing.model import Side
from pairing.photos.pool import Done, Task
from pairing.pieces.photo_groups import PhotoPiece

Progress = Callable[[str, int, int], None]
"""What is being done ("photos read", "pieces judged"), how many are done, of how many."""
Engine = Callable[[Iterable[Task[Any, Any]]], Iterator[Done[Any, Any]]]
"""Works tasks off, in any order: `Pool.run`, or the cluster's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What is to be audited.

    listed: pieces by a list, with paths below the source; None goes by the photos' names.
    is_unsorted: nothing but what was read tells which photos belong together.
    rereads: photos that another version of the reader has read are read again, and those of a
        card whose box was not read.
    decisions: what people said of the rows before, newer than what is kept.
    store: where everything is kept, open; None keeps it in `out`.
    """

    source: Source
    out: Path
    listed: tuple[PhotoPiece, ...] | None = None
    is_unsorted: bool = False
    rereads: bool = False
    decisions: Decisions | None = None
    store: Store | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """Where the rows are, and how many photos were there, read now, of no use, and read by
    another version of the reader before. notes: sentences on decoders that this machine lacks,
    and on what an earlier version left."""

    rows: Path
    photos: int
    read_now: int
    unusable: int
    read_otherwise: int = 0
    notes: tuple[str, ...] = ()


def check_apart(source: Source, out: Path) -> None:
    """Raise OutputRefused where the results would lie among the photos."""
    if not source.is_remote and out.absolute().is_relative_to(source.root):
        raise OutputRefused(
            "The results would lie among the photos",
            where=os.fspath(out),
            remedy="Name a folder outside the one that is audited.",
        )


def head_of(job: Job) -> Head:
    """What the run is about."""
    return Head(photos=job.source.shown, unsorted=job.is_unsorted)


def check_listed(listed: Iterable[PhotoPiece]) -> None:
    """Raise TableUnusable where two pieces have the same photo, and see different sides on it."""
    known: dict[Path, tuple[str, Side | None]] = {}
    for piece in listed:
        for photo in piece.photos:
            other, shows = known.setdefault(photo.path, (piece.name, photo.shows))
            if shows is not photo.shows:
                raise TableUnusable(
                    f"Pieces {other!r} and {piece.name!r} have the same photo, and it is said to "
                    "show different sides",
                    where=photo.path,
                    remedy="Say once what it shows.",
                )

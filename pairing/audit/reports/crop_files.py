"""Pictures of pieces in a folder beside the report, for those that are not in its pages: made when
they are asked for."""

from __future__ import annotations

import urllib.parse
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

from pairing import output
from pairing.audit.reports import crops
from pairing.audit.run.job import Engine
from pairing.audit.run.rows import Row
from pairing.audit.run.sources import Source
from pairing.errors import CounterfoilError
from pairing.photos.pool import Task

FOLDER = "crops"
"""In the run's folder."""
_SIDES = ("label", "box")
_LONGEST = 240
"""Bytes of a file's name (255 by most file systems); a piece with a longer one has no picture."""


def names(piece: str) -> tuple[str, str]:
    """The files' names: the piece's, percent-encoded as `encodeURIComponent` does it (RFC 3986,
    with its unreserved marks), with the side."""
    bare = urllib.parse.quote(piece, safe="!'()*", errors="surrogatepass")
    label, box = (f"{bare}-{side}.jpg" for side in _SIDES)
    return label, box


def make(  # noqa: PLR0913 - rows, where their photos are, and how it is done
    rows: Iterable[Row],
    folder: Path,
    *,
    source: Source,
    engine: Engine,
    progress: Callable[[str, int, int], None],
    total: int,
) -> int:
    """Cut the pictures that are not there yet, row by row; how many pieces have theirs now.
    Raises OutputRefused."""
    folder.mkdir(parents=True, exist_ok=True)
    done = 0
    for piece, crop in engine(_tasks(rows, folder, source)):
        done += 1
        progress("pictures cut", done, total)
        if isinstance(crop, CounterfoilError):
            continue
        for name, data in zip(names(piece), (crop.label, crop.box), strict=True):
            if data:
                output.replace(folder / name, [data])
    return done


def _tasks(rows: Iterable[Row], folder: Path, source: Source) -> Iterator[Task[Any, Any]]:
    for row in rows:
        label, box = names(row.piece)
        is_there = (folder / box).exists() or (folder / label).exists()
        if row.photos and not is_there and len(label) <= _LONGEST:
            yield row.piece, partial(crops.cropped, source, crops.task_of(row)), Path(row.piece)

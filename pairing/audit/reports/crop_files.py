"""Pictures of pieces in a folder beside the report, for those that are not in its pages: made when
they are asked for."""

from __future__ import annotations

import urllib.parse
from collections.abc import Iterable
from pathlib import Path

from pairing import output
from pairing.audit.reports.crops import Cutter
from pairing.audit.run.rows import Row

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


def write(rows: Iterable[Row], folder: Path, cutter: Cutter) -> None:
    """Cut the pictures that are not there yet, row by row. Raises OutputRefused."""
    folder.mkdir(parents=True, exist_ok=True)
    for piece, crop in cutter.cut(row for row in rows if _is_missing(row, folder)):
        for name, data in zip(names(piece), (crop.label, crop.box), strict=True):
            if data:
                output.replace(folder / name, [data])


def _is_missing(row: Row, folder: Path) -> bool:
    label, box = names(row.piece)
    if len(label) > _LONGEST:
        return False
    return not ((folder / box).exists() or (folder / label).exists())

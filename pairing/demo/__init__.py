"""Draws photos of mailings and cards in an invented scenario, and their manifest.

    python -m pairing.demo FOLDER

The same seed gives the same bytes on one machine.
"""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from pairing.demo.manifest import MANIFEST, Row, row_of, write_manifest
from pairing.demo.pieces import PIECES
from pairing.demo.scenario import BoxBy, Layout, Piece
from pairing.demo.studio import take_photos
from pairing.errors import OutputRefused

__all__ = [
    "DEFAULT_SEED",
    "MANIFEST",
    "PIECES",
    "BoxBy",
    "Layout",
    "Piece",
    "Row",
    "draw_pieces",
]

DEFAULT_SEED = 4207


def draw_pieces(
    folder: Path, *, seed: int = DEFAULT_SEED, names: Collection[str] | None = None
) -> tuple[Row, ...]:
    """Draw the pieces' photos into `folder`, with `manifest.csv`; return its rows.

    names: draw only these pieces (their photos do not change by it); None for all.
    Raises OutputRefused where the folder or a file in it cannot be written.
    """
    chosen = tuple(p for p in PIECES if names is None or p.name in names)
    rows = tuple(row_of(piece) for piece in chosen)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for piece in chosen:
            for name, photo in take_photos(piece, seed=seed).items():
                (folder / name).write_bytes(photo)
        write_manifest(folder, rows)
    except OSError as trouble:
        raise OutputRefused(
            f"The photos cannot be written ({trouble.strerror or trouble})",
            where=str(folder),
            remedy="Name a folder that you may write to, with 12 MB to spare.",
        ) from trouble
    return rows

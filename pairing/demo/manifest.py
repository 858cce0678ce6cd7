"""The manifest: what is in each photo, and what must be said of each piece."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

from pairing.demo.scenario import BoxBy, Piece
from pairing.model import Verdict

MANIFEST = "manifest.csv"
COLUMNS = (
    "piece",
    "photos",
    "purpose",
    "article",
    "card",
    "box",
    "box_bars",
    "box_by",
    "second_article",
    "error",
    "verdict",
    "verdict_when_read",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One piece in the manifest; the fields mean what `scenario.Piece`'s mean."""

    piece: str
    photos: tuple[str, ...]
    purpose: str
    article: str
    card: str
    box: str
    box_bars: str
    box_by: BoxBy
    second_article: str
    error: str
    verdict: Verdict
    verdict_when_read: Verdict


def row_of(piece: Piece) -> Row:
    """The manifest's row for a piece."""
    return Row(
        piece=piece.name,
        photos=piece.photos,
        purpose=piece.purpose,
        article=piece.article,
        card=piece.card,
        box=piece.box,
        box_bars=piece.box_bars,
        box_by=piece.box_by,
        second_article=piece.second_article,
        error=piece.error,
        verdict=piece.verdict,
        verdict_when_read=piece.verdict_when_read,
    )


def write_manifest(folder: Path, rows: tuple[Row, ...]) -> None:
    """Write the rows as CSV (RFC 4180 quoting, line feeds, UTF-8)."""
    text = StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in rows:
        cells = [getattr(row, column) for column in COLUMNS]
        writer.writerow([";".join(c) if isinstance(c, tuple) else str(c) for c in cells])
    (folder / MANIFEST).write_text(text.getvalue(), encoding="utf-8", newline="\n")

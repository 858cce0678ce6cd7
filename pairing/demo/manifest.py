"""The manifest: what is in each photo, and what must be said of each piece."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from pairing import csv_tables
from pairing.demo.scenario import BoxBy, Piece
from pairing.model import Verdict

MANIFEST = "manifest.csv"


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
    verdict_when_taught: Verdict


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
        verdict_when_taught=piece.verdict_when_taught or piece.verdict,
    )


def write_manifest(folder: Path, rows: tuple[Row, ...]) -> None:
    """Write the rows as CSV (RFC 4180 quoting, line feeds, UTF-8)."""

    def cells(row: Row) -> list[str]:
        found = (getattr(row, head) for head in csv_tables.SAMPLES)
        return [";".join(one) if isinstance(one, tuple) else str(one) for one in found]

    text = "".join(csv_tables.table(csv_tables.SAMPLES, map(cells, rows)))
    (folder / MANIFEST).write_text(text, encoding="utf-8", newline="\n")

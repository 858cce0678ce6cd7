"""The inquiry list as PDF: cards that have not come back, for asking at the post office.

What is asked for there (number, date of mailing, addressee) is in the first columns; the form
for the question itself is the operator's (in the United States PS Form 3811-A).
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Paragraph, SimpleDocTemplate, Spacer, Table

from pairing import column_heads
from pairing.desk.daylist_face import embedded, unusable
from pairing.desk.for_whom import Field, described, total
from pairing.desk.outstanding import CAUTION, Outstanding
from pairing.numbers import printed

_PAPERS = {"letter": LETTER, "a4": A4}
_MM = 72 / 25.4
_MARGIN = 15 * _MM
_WIDTHS = (8 * _MM, 52 * _MM, 21 * _MM, 0, 16 * _MM, 21 * _MM)
"""Columns; the addressee's takes what is left."""

_HEADS = (
    column_heads.PLACE,
    column_heads.ARTICLE_AND_CARD,
    column_heads.MAILED,
    column_heads.ADDRESSEE,
    column_heads.FEE,
    column_heads.INQUIRE_BY,
)


def pdf(
    rows: Sequence[Outstanding],
    *,
    day: date,
    sender: tuple[str, ...] = (),
    paper: str = "letter",
    font: Path | None = None,
) -> bytes:
    """The file's bytes; the same for the same input. day: of the list. sender, font: as on the
    day's list. Raises OutputRefused for a font that lacks letters of a name."""
    texts = [described(row.about) for row in rows]
    fees = [row.about.get(Field.FEE, "") for row in rows]
    face = embedded(font, (*sender, *texts, *fees))
    try:
        return _built(rows, texts, day=day, sender=sender, paper=paper, face=face)
    except Exception as problem:
        if font is None:
            raise
        raise unusable(font, problem) from problem  # it is taken apart only now


def _built(  # noqa: PLR0913 - the list, and how it looks
    rows: Sequence[Outstanding],
    texts: Sequence[str],
    *,
    day: date,
    sender: tuple[str, ...],
    paper: str,
    face: str,
) -> bytes:
    out = io.BytesIO()
    size = _PAPERS[paper]
    title = f"Return cards not received, {day.isoformat()}"
    document = SimpleDocTemplate(
        out, pagesize=size, title=title, invariant=1, lang="en",
        leftMargin=_MARGIN, rightMargin=_MARGIN, topMargin=_MARGIN, bottomMargin=_MARGIN,
    )  # fmt: skip
    plain = ParagraphStyle("plain", fontName=face, fontSize=8.5, leading=11)
    head = ParagraphStyle("head", parent=plain, fontName="Helvetica-Bold", fontSize=16, leading=22)
    wide = size[0] - 2 * _MARGIN - sum(_WIDTHS)
    cells = [list(_HEADS), *_cells(rows, texts, plain)]
    said = total(row.about for row in rows).sentence
    document.build(
        [
            Paragraph(escape(title), head),
            *(Paragraph(escape(line), plain) for line in sender),
            Spacer(0, 4 * _MM),
            _table(cells, [one or wide for one in _WIDTHS]),
            Spacer(0, 4 * _MM),
            Paragraph(escape(f"Articles on this list: {len(rows)}. {said}".strip()), plain),
            Paragraph(escape(CAUTION), plain),
        ],
        onFirstPage=_foot,
        onLaterPages=_foot,
    )
    return out.getvalue()


def _cells(
    rows: Sequence[Outstanding], texts: Sequence[str], plain: ParagraphStyle
) -> Iterator[list[Any]]:
    number = ParagraphStyle("number", parent=plain, fontName="Courier", fontSize=8.2)
    for place, (row, text) in enumerate(zip(rows, texts, strict=True), 1):
        both = f"{_shown(row.piece.article)}<br/>card {_shown(row.piece.card)}"
        yield [
            str(place),
            Paragraph(both, number),
            row.sealed.isoformat(),
            Paragraph(escape(text), plain),
            Paragraph(escape(row.about.get(Field.FEE, "")), plain),
            row.inquire_by.isoformat() if row.inquire_by else "ask",
        ]


def _table(cells: list[list[Any]], widths: list[float]) -> Table:
    return Table(
        cells,
        colWidths=widths,
        repeatRows=1,
        style=[
            ("FONT", (0, 0), (-1, 0), "Helvetica-Bold", 9),
            ("FONT", (0, 1), (-1, -1), "Helvetica", 8.5),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LINEBELOW", (0, 0), (-1, -1), 0.3, colors.black),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ],
    )


def _shown(text: str | None) -> str:
    return escape(printed(text)) if text else "none"


def _foot(canvas: Any, document: Any) -> None:
    canvas.setFont("Helvetica", 8)
    canvas.drawRightString(document.pagesize[0] - _MARGIN, 8 * _MM, f"page {document.page}")

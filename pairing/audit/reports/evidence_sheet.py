"""The evidence for one piece on paper: a PDF of two crops, the numbers, the findings, the
photos' hashes, what the ledger proves, and what all this does not show."""

from __future__ import annotations

import io
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pairing import output
from pairing.audit.reports import sheet_words as words
from pairing.audit.reports.sheet_words import Evidence, escape
from pairing.audit.run.rows import Row
from pairing.errors import EngineMissing

_FOOT = 95
"""Characters on a line of the foot, at its size."""


def write(evidence: Evidence, target: Path) -> None:
    """Write the sheet. Raises EngineMissing without reportlab, OutputRefused."""
    try:
        laid_out, pages = _laid_out(evidence, of=1)
    except ImportError as error:
        raise EngineMissing(
            "The evidence sheet needs the package reportlab",
            where=os.fspath(target),
            remedy="Install Counterfoil again.",
        ) from error
    if pages > 1:  # how many there are is known once they are laid out
        laid_out, _ = _laid_out(evidence, of=pages)
    output.replace(target, [laid_out], remedy="Name a file in a folder that you may write to.")


def _laid_out(evidence: Evidence, *, of: int) -> tuple[bytes, int]:
    """The PDF, and how many pages it has."""
    from reportlab.lib.pagesizes import A4  # noqa: PLC0415 - only for sheets
    from reportlab.lib.units import mm  # noqa: PLC0415
    from reportlab.platypus import SimpleDocTemplate  # noqa: PLC0415

    out = io.BytesIO()
    document = SimpleDocTemplate(
        out,
        pagesize=A4,
        leftMargin=18 * mm,
        rightMargin=18 * mm,
        topMargin=14 * mm,
        bottomMargin=20 * mm,
        title=f"Evidence: piece {evidence.row.piece}",
        author="Counterfoil",
    )
    foot = _foot(evidence, of=of)
    document.build(list(_story(evidence)), onFirstPage=foot, onLaterPages=foot)
    return out.getvalue(), document.page


def _story(evidence: Evidence) -> Iterator[Any]:
    from reportlab.lib.styles import ParagraphStyle  # noqa: PLC0415
    from reportlab.platypus import Paragraph, Spacer  # noqa: PLC0415

    row = evidence.row
    text = ParagraphStyle("text", fontName="Times-Roman", fontSize=10.5, leading=13.5)
    lead = ParagraphStyle("lead", parent=text, fontSize=13, leading=17, spaceBefore=2)
    head = ParagraphStyle("head", parent=text, fontName="Times-Bold", fontSize=17, leading=22)
    part = ParagraphStyle(
        "part", parent=text, fontName="Times-Bold", spaceBefore=8, spaceAfter=2, keepWithNext=1
    )
    mono = ParagraphStyle("mono", parent=text, fontName="Courier", fontSize=8, leading=11)
    yield Paragraph(f"Piece {escape(row.piece)}", head)
    yield Paragraph(words.verdict(row), lead)
    for said in (*words.keyed(row), *words.review(row)):
        yield Paragraph(escape(said), text)
    yield Spacer(1, 6)
    yield _pictures(evidence, text)
    yield Paragraph("Numbers", part)
    yield _numbers(row, text)
    yield Paragraph("Findings", part)
    for said in words.findings(row):
        yield Paragraph(said, text)
    yield Paragraph("Photographs", part)
    for photo in row.photos:
        yield Paragraph(escape(photo.photo), text)
        yield Paragraph(f"SHA-256 {photo.sha256 or 'not known'}", mono)
    yield Paragraph("Ledger", part)
    for said in words.ledger(evidence):
        yield Paragraph(said, text)
    yield Paragraph("What this sheet does not show", part)
    for said in words.cautions(evidence):
        yield Paragraph(f"\u2013 {escape(said)}", text)


def _pictures(evidence: Evidence, style: Any) -> Any:
    """Both, below each other, as wide as they go: what is shown has to be legible on paper."""
    from reportlab.lib.units import mm  # noqa: PLC0415
    from reportlab.lib.utils import ImageReader  # noqa: PLC0415
    from reportlab.platypus import Image, Paragraph, Table  # noqa: PLC0415

    rows: list[list[Any]] = []
    for name, jpeg in (("Label", evidence.label), ("Box on the card", evidence.box)):
        shown: Any = Paragraph("no picture", style)
        if jpeg:
            wide, high = ImageReader(io.BytesIO(jpeg)).getSize()
            scale = min(136 * mm / wide, 37 * mm / high)
            shown = Image(io.BytesIO(jpeg), width=wide * scale, height=high * scale, hAlign="LEFT")
        rows.append([Paragraph(name, style), shown])
    table = Table(rows, colWidths=[28 * mm, 141 * mm], hAlign="LEFT")
    table.setStyle(
        [
            ("BOX", (0, 0), (-1, -1), 0.4, "#999999"),
            ("LINEBELOW", (0, 0), (-1, 0), 0.4, "#999999"),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("TOPPADDING", (0, 0), (-1, -1), 5),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 5),
            ("LEFTPADDING", (0, 0), (-1, -1), 5),
        ]
    )
    return table


def _numbers(row: Row, style: Any) -> Any:
    from reportlab.platypus import Paragraph, Table  # noqa: PLC0415

    cells = [
        [Paragraph(name, style), Paragraph(f'<font name="Courier">{text}</font>', style)]
        for name, text in words.numbers(row)
    ]
    table = Table(cells, colWidths=[150, 329], hAlign="LEFT")
    table.setStyle(
        [("LINEBELOW", (0, 0), (-1, -1), 0.3, "#bbbbbb"), ("LEFTPADDING", (0, 0), (0, -1), 0)]
    )
    return table


def _shortened(text: str) -> str:
    """As much of it as a foot has room for."""
    shown = words.latin(text)
    return shown if len(shown) <= _FOOT else f"{shown[: _FOOT - 3]}..."


def _foot(evidence: Evidence, *, of: int) -> Any:
    def draw(canvas: Any, document: Any) -> None:
        canvas.saveState()
        canvas.setFont("Times-Roman", 8.5)
        canvas.drawString(57, 42, _shortened(f"Piece {evidence.row.piece}"))
        canvas.drawRightString(538, 42, f"page {document.page} of {of}")
        canvas.drawString(57, 30, _shortened(evidence.made))
        canvas.restoreState()

    return draw

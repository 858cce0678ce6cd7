"""The evidence for one piece on paper: a PDF of two crops, the numbers, the findings, the
photos' hashes, what the ledger proves, and what all this does not show."""

from __future__ import annotations

import base64
import io
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.sax import saxutils

from pairing.compare import compare
from pairing.errors import EngineMissing, OutputRefused
from pairing.ledger import ProofCheck
from pairing.model import TrackingNumber
from pairing.numbers import identify, is_number, printed
from pairing.numbers.grouping import bounds

CAUTIONS = (
    "This sheet says what was read from the photographs named below, and nothing of what the "
    "mailing contained or whether it was delivered.",
    "A photograph's SHA-256 shows that a file is the same as the one that was read; it does not "
    "show when it was taken or of what.",
    "Numbers read by their shape (print, handwriting) carry the reader's measured error rate; "
    "where it matters, compare with the piece itself.",
)
_PROVED = (
    "The ledger's proof shows that these entries were in it when its head was signed. That "
    "nothing was added about the piece later, it cannot show."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """row: of the run. label, box: JPEGs, b"" where there is none. made: time and program, in
    words. proof: the ledger's, checked; None without. proof_file: its name."""

    row: Mapping[str, Any]
    label: bytes
    box: bytes
    made: str
    proof: ProofCheck | None = None
    proof_file: str = ""


def crops(found: Mapping[str, Any]) -> tuple[bytes, bytes]:
    """JPEGs of label and box from base64 texts; b"" for None."""
    return base64.b64decode(found["label"] or ""), base64.b64decode(found["box"] or "")


def escape(text: str) -> str:
    """Text as reportlab's paragraphs take it; what the PDF's own faces lack is spelled out."""
    shown = text.encode("cp1252", "backslashreplace").decode("cp1252")
    return saxutils.escape(shown)


def write(evidence: Evidence, target: Path) -> None:
    """Write the sheet. Raises EngineMissing without reportlab, OutputRefused."""
    try:
        from reportlab.lib.pagesizes import A4  # noqa: PLC0415 - only for sheets
        from reportlab.lib.units import mm  # noqa: PLC0415
        from reportlab.platypus import SimpleDocTemplate  # noqa: PLC0415
    except ImportError as error:
        raise EngineMissing(
            "The evidence sheet needs the package reportlab",
            where=os.fspath(target),
            remedy="Install Counterfoil again.",
        ) from error
    out = io.BytesIO()
    document = SimpleDocTemplate(
        out,
        pagesize=A4,
        leftMargin=20 * mm,
        rightMargin=20 * mm,
        topMargin=18 * mm,
        bottomMargin=18 * mm,
        title=f"Evidence: piece {evidence.row['piece']}",
        author="Counterfoil",
    )
    foot = _foot(evidence)
    document.build(list(_story(evidence)), onFirstPage=foot, onLaterPages=foot)
    try:
        target.write_bytes(out.getvalue())
    except OSError as error:
        raise OutputRefused(
            f"The evidence sheet cannot be written ({error.strerror or error})",
            where=os.fspath(target),
            remedy="Name a file in a folder that you may write to.",
        ) from error


def _story(evidence: Evidence) -> Iterator[Any]:
    from reportlab.lib.styles import ParagraphStyle  # noqa: PLC0415
    from reportlab.platypus import Paragraph, Spacer  # noqa: PLC0415

    row = evidence.row
    text = ParagraphStyle("text", fontName="Times-Roman", fontSize=10.5, leading=14)
    head = ParagraphStyle("head", parent=text, fontName="Times-Bold", fontSize=17, leading=22)
    part = ParagraphStyle("part", parent=text, fontName="Times-Bold", spaceBefore=9, spaceAfter=3)
    mono = ParagraphStyle("mono", parent=text, fontName="Courier", fontSize=8, leading=11)
    yield Paragraph(f"Piece {escape(row['piece'])}", head)
    yield Paragraph(escape(_verdict(row)), text)
    yield Spacer(1, 8)
    yield _pictures(evidence, text)
    yield Paragraph("Numbers", part)
    yield _numbers(row, text)
    yield Paragraph("Findings", part)
    for words in _findings(row):
        yield Paragraph(words, text)
    yield Paragraph("Photographs", part)
    for photo in row["photos"]:
        yield Paragraph(escape(photo["photo"]), text)
        yield Paragraph(f"SHA-256 {photo['sha256'] or 'not known'}", mono)
    yield Paragraph("Ledger", part)
    for words in _ledger(evidence):
        yield Paragraph(words, text)
    yield Paragraph("What this sheet does not show", part)
    for words in _cautions(row):
        yield Paragraph(f"\u2013 {escape(words)}", text)


def _verdict(row: Mapping[str, Any]) -> str:
    words = {
        "agrees": "The card repeats the label's number.",
        "differs": "The card does not go with the label.",
        "unread": "The pair could not be decided.",
    }
    review = row["review"]
    said = ""
    if review:
        by = f" by {review['by']}" if review["by"] else ""
        note = f" Note: {review['note']}" if review["note"] else ""
        said = f" Looked at again{by} on {review['at'][:10]}: {review['decision']}.{note}"
    return f"{row['verdict'].upper()}. {words[row['verdict']]}{said}"


def _pictures(evidence: Evidence, style: Any) -> Any:
    from reportlab.lib.units import mm  # noqa: PLC0415
    from reportlab.lib.utils import ImageReader  # noqa: PLC0415
    from reportlab.platypus import Image, Paragraph, Table  # noqa: PLC0415

    cells = []
    for jpeg in (evidence.label, evidence.box):
        if not jpeg:
            cells.append(Paragraph("no picture", style))
            continue
        wide, high = ImageReader(io.BytesIO(jpeg)).getSize()
        scale = min(81 * mm / wide, 60 * mm / high)
        cells.append(Image(io.BytesIO(jpeg), width=wide * scale, height=high * scale))
    table = Table([["Label", "Box on the card"], cells], colWidths=[85 * mm, 85 * mm])
    table.setStyle(
        [
            ("FONT", (0, 0), (-1, 0), "Times-Italic", 9.5),
            ("BOX", (0, 0), (0, -1), 0.4, "#999999"),
            ("BOX", (1, 0), (1, -1), 0.4, "#999999"),
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            ("LEFTPADDING", (0, 0), (-1, -1), 5),
        ]
    )
    return table


def _numbers(row: Mapping[str, Any], style: Any) -> Any:
    from reportlab.platypus import Paragraph, Table  # noqa: PLC0415

    label, box = _marked(row)
    by = f" (by {row['written_by']})" if row["written_by"] else ""
    rows = [
        ("on the label", label or "not read"),
        (f"in the box{by}", box or "not read"),
        ("card's own", escape(printed(identify(row["card"]))) if row["card"] else "none read"),
    ]
    cells = [
        [Paragraph(name, style), Paragraph(f'<font name="Courier">{text}</font>', style)]
        for name, text in rows
    ]
    table = Table(cells, colWidths=[110, 360])
    table.setStyle(
        [("LINEBELOW", (0, 0), (-1, -1), 0.3, "#bbbbbb"), ("LEFTPADDING", (0, 0), (0, -1), 0)]
    )
    return table


def _marked(row: Mapping[str, Any]) -> tuple[str, str]:
    """Label and box below each other, differing digits bold and underlined; `-` where one side
    has nothing."""
    article, written = row["article"], row["written"]
    if not article or not written:
        return _plain(article), _plain(written)
    label = identify(article)
    sizes = label.family.group_sizes if isinstance(label, TrackingNumber) else (4,)
    found = compare(article, written, group_sizes=sizes, is_valid=is_number)
    ends = {end for _, end in bounds(len(article), sizes)}
    sides: tuple[list[str], list[str]] = ([], [])
    seen = 0
    for column in found.columns:
        for side, char in zip(sides, (column.label, column.box), strict=True):
            shown = escape(char or "-")
            side.append(shown if column.same else f"<b><u>{shown}</u></b>")
        seen += column.label is not None
        if column.label is not None and seen in ends and seen < len(article):
            sides[0].append("&nbsp;")
            sides[1].append("&nbsp;")
    return "".join(sides[0]), "".join(sides[1])


def _plain(text: str | None) -> str:
    return escape(printed(identify(text))).replace(" ", "&nbsp;") if text else ""


def _findings(row: Mapping[str, Any]) -> Sequence[str]:
    heads = {"clash": "<b>Stop.</b>", "doubt": "<b>Look.</b>", "note": "Note."}
    said = [f"{heads[one['weight']]} {escape(one['message'])}" for one in row["findings"]]
    return said or ["None: label and card were read beyond doubt, and the box repeats the label."]


def _ledger(evidence: Evidence) -> Iterator[str]:
    proof, record = evidence.proof, evidence.row["record"]
    if proof is None:
        state = f"In the ledger: {record['state']}." if record else "No ledger was asked."
        yield escape(state)
        return
    entries = ", ".join(str(entry.sequence) for entry in proof.entries)
    held = "holds" if proof.holds else "DOES NOT HOLD"
    yield escape(
        f"The proof {evidence.proof_file} {held}: entries {entries} of a ledger of "
        f"{proof.head.size} entries, head of {proof.head.at}, signed by key {proof.key_id}."
    )
    yield f'<font name="Courier" size="8">root {proof.head.root.hex()}</font>'
    for finding in proof.findings:
        yield f"<b>{escape(finding.message)}</b>"
    yield escape(_PROVED)


def _cautions(row: Mapping[str, Any]) -> Iterator[str]:
    yield from CAUTIONS
    if row["match"]:
        yield (
            "Label and card were put together by the number in the box alone; that they were on "
            "one mailing, the photographs do not show."
        )


def _foot(evidence: Evidence) -> Any:
    def draw(canvas: Any, document: Any) -> None:
        canvas.saveState()
        canvas.setFont("Times-Roman", 8.5)
        canvas.drawString(57, 32, evidence.made)
        canvas.drawRightString(538, 32, f"piece {evidence.row['piece']}, page {document.page}")
        canvas.restoreState()

    return draw

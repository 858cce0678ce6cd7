"""The font that names are printed in: embedded in the PDF, with every letter that is needed."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import reportlab
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from pairing.errors import OutputRefused


def embedded(font: Path | None, texts: Iterable[str]) -> str:
    """Register a TrueType file, by default one of the PDF library's; returns its name in the PDF.

    Raises OutputRefused for a file that cannot be used, or that lacks letters of `texts`: a name
    must not be printed with letters missing.
    """
    path = font or Path(reportlab.__file__).parent / "fonts" / "Vera.ttf"
    name = f"names-{path.stem}"
    try:
        face = TTFont(name, str(path))
    except Exception as problem:  # a damaged font makes the library raise whatever
        raise unusable(path, problem) from problem
    needed = {char for text in texts for char in text if not char.isspace()}
    lacking = sorted(char for char in needed if ord(char) not in face.face.charToGlyph)
    if lacking:
        raise OutputRefused(
            f"The font lacks {len(lacking)} characters of the names ({''.join(lacking[:8])})",
            where=str(path),
            remedy="Name a font that has them with --font FILE.ttf.",
        )
    pdfmetrics.registerFont(face)
    return name


def unusable(path: Path, problem: Exception) -> OutputRefused:
    """The error for a font file that the PDF library cannot use."""
    return OutputRefused(
        f"This is not a TrueType font ({problem})",
        where=str(path),
        remedy="Name a .ttf file with --font.",
    )

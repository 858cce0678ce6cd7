"""A sheet of barcodes that stand for the page's buttons, so that nobody has to let go of the
scanner.

Their texts are no numbers and no words of the counter; `capture.js` knows them by heart. A strip
that is announced this way is held against the clock as one that is announced by its button.
"""

from __future__ import annotations

import io
import json
from importlib import resources

from reportlab.graphics.barcode.code128 import Code128
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

COMMANDS = {
    "COUNTERFOIL-STRIP": "strip",
    "COUNTERFOIL-AGAIN": "again",
    "COUNTERFOIL-NEXT": "next",
    "COUNTERFOIL-ASIDE": "aside",
}
"""What each barcode says, to the button that it presses (`actions` in the texts)."""

_PAPERS = {"letter": LETTER, "a4": A4}
_BAR_MM = 0.4
"""Width of the narrowest bar: what hand scanners read at arm's length (common practice, no
source)."""
_HIGH_MM, _STEP_MM, _MARGIN_MM, _TEXT_PT = 18.0, 52.0, 22.0, 20.0


def pdf(*, paper: str = "letter", language: str = "en") -> bytes:
    """One page, a barcode for each button with the button's own words above it. paper: letter or
    a4. language: one of `settings.LANGUAGES`."""
    texts = resources.files("pairing.kiosk").joinpath("texts", f"{language}.json")
    names = json.loads(texts.read_text("utf-8"))["actions"]
    wide, high = _PAPERS[paper]
    stream = io.BytesIO()
    canvas = Canvas(stream, pagesize=(wide, high), invariant=1)
    canvas.setTitle("Counterfoil")
    for place, (said, name) in enumerate(COMMANDS.items(), 1):
        top = high - place * _STEP_MM * mm
        canvas.setFont("Helvetica-Bold", _TEXT_PT)
        canvas.drawString(_MARGIN_MM * mm, top + (_HIGH_MM + 5) * mm, names[name])
        bars = Code128(said, barWidth=_BAR_MM * mm, barHeight=_HIGH_MM * mm, quiet=True)
        bars.drawOn(canvas, _MARGIN_MM * mm - bars.lquiet, top)
    canvas.showPage()
    canvas.save()
    return stream.getvalue()

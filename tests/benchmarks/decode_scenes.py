"""Scenes of labels and cards of eight designs, drawn by parameters, sharing nothing with the
demonstration: bars by reportlab, 2-D codes by zxing-cpp, faces by reportlab (Bitstream Vera)
and Pillow, a camera of their own. Sizes in mm unless they say px.

`TRIED` were looked at while the reader was built, `KEPT` were measured once, at the end.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import reportlab
import zxingcpp
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from stdnum import ean

from tests.benchmarks.decode_camera import LEVELS, PX_PER_MM, photographed
from tests.photos.drawing import reportlab_modules

Gray = NDArray[np.uint8]
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """A label. x_mm, high_mm: its narrow bar and its bars' height. beside: what stands to the
    left of the bars ("text", "qr", "datamatrix", "logo", ""). over: text above the bars.
    gap_mm: between bars and number. is_upright: bars turned by 90 degrees on the paper."""

    name: str
    kind: str
    x_mm: float
    high_mm: float
    beside: str = ""
    over: str = ""
    gap_mm: float = 1.0
    digit_mm: float = 3.2
    is_mono: bool = False
    is_thermal: bool = False
    is_framed: bool = False
    is_upright: bool = False
    group: tuple[int, ...] = field(default=(4,))


TRIED = (
    Design(name="plain", kind="legacy", x_mm=0.38, high_mm=19, over="REGISTERED NO."),
    Design(name="text beside", kind="22", x_mm=0.30, high_mm=14, beside="text", is_framed=True),
    Design(name="matrix beside", kind="22", x_mm=0.33, high_mm=20, beside="datamatrix"),
    Design(name="thermal roll", kind="22", x_mm=0.38, high_mm=16, is_thermal=True, gap_mm=0.5),
    Design(name="S10", kind="S10", x_mm=0.42, high_mm=13, over="RECOMMANDE", is_framed=True),
)
KEPT = (
    Design(name="logo block", kind="legacy", x_mm=0.33, high_mm=16, beside="logo", gap_mm=2.0),
    Design(name="QR beside", kind="22", x_mm=0.27, high_mm=13, beside="qr", digit_mm=2.6),
    Design(name="S10 thermal", kind="S10", x_mm=0.35, high_mm=15, is_thermal=True, gap_mm=0.6,
           beside="text", is_upright=True),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A scene and its truths, "" for what it does not show."""

    gray: Gray
    article: str
    card: str
    strip: str


def scenes(designs: tuple[Design, ...], level: str, count: int, seed: int) -> Iterator[Drawn]:
    """`count` scenes: of one item each, label and card in turn, or of both at level one."""
    for number in range(count):
        yield scene(designs, level, number, seed)


def scene(designs: tuple[Design, ...], level: str, number: int, seed: int) -> Drawn:
    """One of the scenes of a seed."""
    rng = np.random.default_rng([seed, number, len(level), ord(level[0])])
    design = designs[number % len(designs)]
    article = _number(design.kind, rng)
    card = _checked("9590" + "".join(map(str, rng.integers(0, 10, 17))))
    strip = article if number // len(designs) % 2 == 0 else ""
    label, form = _label(design, article, rng), _card(card, article, strip, rng)
    camera = LEVELS[level]
    if level == "one":
        gray = photographed([label, form], camera, rng)
        return Drawn(gray=gray, article=article, card=card, strip=strip)
    if number % 2:
        return Drawn(gray=photographed([label], camera, rng), article=article, card="", strip="")
    gray = photographed([form], camera, rng)
    return Drawn(gray=gray, article="", card=card, strip=strip)


def label_sheet(design: Design, rng: np.random.Generator) -> tuple[str, Gray]:
    """An invented number, and the flat label that bears it, `decode_camera.PX_PER_MM`."""
    article = _number(design.kind, rng)
    return article, _label(design, article, rng)


def _checked(body: str) -> str:
    return body + str(ean.calc_check_digit(body))


def _number(kind: str, rng: np.random.Generator) -> str:
    """An invented number. S10 check digit: UPU S10-12, weights 8 6 4 2 3 5 9 7, modulo 11."""
    digits = "".join(map(str, rng.integers(0, 10, 22)))
    if kind == "legacy":
        return _checked("7019" + digits[:15])
    if kind == "22":
        return _checked("92088904" + digits[:13])
    total = sum(int(d) * w for d, w in zip(digits[:8], (8, 6, 4, 2, 3, 5, 9, 7), strict=True))
    check = {10: 0, 11: 5}.get(11 - total % 11, 11 - total % 11)
    return f"RR{digits[:8]}{check}US"


@cache
def _font(
    high_mm: float, *, is_mono: bool = False, is_bold: bool = False
) -> ImageFont.FreeTypeFont:
    size = high_mm * PX_PER_MM * 1.35
    if is_mono:
        face = ImageFont.load_default(size)
        assert isinstance(face, ImageFont.FreeTypeFont)
        return face
    folder = Path(reportlab.__file__).parent / "fonts"
    return ImageFont.truetype(str(folder / ("VeraBd.ttf" if is_bold else "Vera.ttf")), size)


def _sheet(wide_mm: float, high_mm: float, paper: int) -> tuple[Image.Image, ImageDraw.ImageDraw]:
    size = (round(wide_mm * PX_PER_MM), round(high_mm * PX_PER_MM))
    image = Image.new("L", size, paper)
    return image, ImageDraw.Draw(image)


def _grouped(text: str, first: int = 4) -> str:
    if not text.isdigit():
        return f"{text[:2]} {text[2:5]} {text[5:8]} {text[8:11]} {text[11:]}"
    return " ".join(text[i : i + first] for i in range(0, len(text), first))


def _bars(
    image: Image.Image, text: str, left: float, top: float, x_mm: float, high: float
) -> float:
    """Bars on the sheet; their length in mm."""
    modules = reportlab_modules(text)
    wide = len(modules) * x_mm
    row = np.where(modules, 25, 255).astype(np.uint8)[None]
    size = (round(wide * PX_PER_MM), round(high * PX_PER_MM))
    fine = cv2.resize(row, size, interpolation=cv2.INTER_NEAREST)
    mask = Image.fromarray(np.asarray(255 - fine, np.uint8))
    image.paste(30, (round(left * PX_PER_MM), round(top * PX_PER_MM)), mask)
    return wide


def _line(
    draw: ImageDraw.ImageDraw, at: tuple[float, float], text: str, high: float, **how: bool
) -> None:
    font = _font(high, **how)
    draw.text((at[0] * PX_PER_MM, at[1] * PX_PER_MM), text, fill=35, font=font, anchor="lt")


def _centered(
    draw: ImageDraw.ImageDraw, middle: float, top: float, text: str, high: float, **how: bool
) -> None:
    font = _font(high, **how)
    draw.text((middle * PX_PER_MM, top * PX_PER_MM), text, fill=35, font=font, anchor="mt")


def _label(design: Design, number: str, rng: np.random.Generator) -> Gray:
    length = len(reportlab_modules(number)) * design.x_mm
    aside = {"": 0.0, "text": 32.0, "logo": 26.0}.get(design.beside, 22.0)
    wide, high = length + aside + 22, design.high_mm + 34
    image, draw = _sheet(wide, high, 246)
    left, top = 11 + aside, 14.0
    if design.over:
        _centered(draw, left + length / 2, 6, design.over, 3.4, is_bold=True)
    _bars(image, number, left, top, design.x_mm, design.high_mm)
    under = top + design.high_mm + design.gap_mm
    _centered(
        draw, left + length / 2, under, _grouped(number), design.digit_mm, is_mono=design.is_mono
    )
    _beside(image, draw, design, number, rng)
    words = "".join(rng.choice(list("abcdefghil mnoprstu"), 30))
    _line(draw, (6, high - 8), f"{words} {rng.integers(10, 99)}", 2.4)
    if design.is_framed:
        box = [2 * PX_PER_MM, 3 * PX_PER_MM, (wide - 2) * PX_PER_MM, (high - 3) * PX_PER_MM]
        draw.rectangle(box, outline=40, width=8)
    gray = np.array(image)
    if design.is_thermal:  # a worn head's lines, and dots that fade
        lines: Floats = np.where(rng.random(gray.shape[0]) < 0.03, 0.65, 1.0)
        fade = cv2.resize(rng.random((12, 18)).astype(np.float32), gray.shape[::-1])
        ink = (246 - gray.astype(np.float64)) * lines[:, None] * (0.75 + 0.25 * fade)
        gray = np.clip(246 - ink, 0, 255).astype(np.uint8)
    return np.asarray(np.rot90(gray) if design.is_upright else gray, np.uint8)


def _beside(
    image: Image.Image,
    draw: ImageDraw.ImageDraw,
    design: Design,
    number: str,
    rng: np.random.Generator,
) -> None:
    left, top = 8.0, 15.0
    if design.beside == "text":
        for row in range(5):
            words = "".join(rng.choice(list("ABCDEHKLMNORST 0123456789"), 11))
            _line(draw, (left - 2, top - 1 + 3.6 * row), words, 2.2)
    elif design.beside == "logo":
        box = [
            left * PX_PER_MM,
            top * PX_PER_MM,
            (left + 18) * PX_PER_MM,
            (top + 13) * PX_PER_MM,
        ]
        draw.rectangle(box, fill=40)
        draw.ellipse([box[0] + 40, box[1] + 30, box[0] + 170, box[3] - 20], fill=235)
    elif design.beside:
        kind = {"qr": "QRCode", "datamatrix": "DataMatrix"}[design.beside]
        code = zxingcpp.create_barcode(
            f"{number} 27 ELM ROW", getattr(zxingcpp.BarcodeFormat, kind)
        )
        pixels = np.array(zxingcpp.write_barcode_to_image(code, scale=1))
        size = 16 * PX_PER_MM
        big = cv2.resize(pixels, (size, size), interpolation=cv2.INTER_NEAREST)
        image.paste(Image.fromarray(big), (round((left - 1) * PX_PER_MM), round(top * PX_PER_MM)))


def _card(card: str, article: str, strip: str, rng: np.random.Generator) -> Gray:
    """A card: captions, its own bars with the number below, a ruled box with a strip or empty."""
    image, draw = _sheet(128, 84, 238)
    _line(draw, (6, 5), "DELIVERY CONFIRMATION", 3.4, is_bold=True)
    for row, words in enumerate(("Addressee", "Signed by", "Date")):
        _line(draw, (78, 12 + 18 * row), words, 2.2)
        y = (27 + 18 * row) * PX_PER_MM
        draw.line([76 * PX_PER_MM, y, 124 * PX_PER_MM, y], fill=60, width=5)
    _line(draw, (6, 13), "To be returned to the sender named overleaf", 2.0)
    length = _bars(image, card, 8, 22, 0.33, 11)
    _centered(draw, 8 + length / 2, 34.2, _grouped(card), 2.8)
    box = [5 * PX_PER_MM, 44 * PX_PER_MM, 74 * PX_PER_MM, 60 * PX_PER_MM]
    draw.rectangle(box, outline=50, width=6)
    _line(draw, (6, 40.6), "Number of the article", 2.0)
    _line(draw, (6, 63), "Keep this card with the receipt", 2.0)
    if strip:
        piece, pen = _sheet(len(reportlab_modules(strip)) * 0.28 + 8, 11, 250)
        wide = _bars(piece, strip, 4, 1.2, 0.28, 4.6)
        _centered(pen, 4 + wide / 2, 6.6, _grouped(strip), 2.4)
        at = (round(rng.uniform(7, 12) * PX_PER_MM), round(rng.uniform(45, 47) * PX_PER_MM))
        turned = piece.rotate(rng.uniform(-2.5, 2.5), expand=True, fillcolor=238)
        image.paste(turned, at)
    return np.array(image)

"""How people alter a strip in a box, or put the wrong one there; `alterations` has the rest."""

from __future__ import annotations

import numpy as np
import zxingcpp

from pairing.demo.paper import grouped, write
from pairing.demo.sheet import MONO, Sheet, Type, bar_modules
from tests.benchmarks.drawn_cards import Filled, article_number, through


def print_struck(card: Filled) -> None:
    """A strip without bars, struck out by a pen."""
    place = card.strip(grouped(card.article), bars=None)
    through(card, place[0] + 3, place[0] + place[2] - 3, place[1] + 0.5 * place[3])


def print_group_struck(card: Filled) -> None:
    """A group of a strip without bars struck out."""
    place = card.strip(grouped(card.article), bars=None)
    middle = place[0] + place[2] * card.rng.uniform(0.25, 0.75)
    through(card, middle - 4, middle + 4, place[1] + 0.5 * place[3])


def bars_struck(card: Filled) -> None:
    """A strip with bars, struck out from side to side."""
    place = card.strip(grouped(card.article), bars=card.article)
    through(card, place[0] - 1, place[0] + place[2] + 1, place[1] + 0.4 * place[3], pen=0.6)


def bars_crossed(card: Filled) -> None:
    """An X over a strip with bars."""
    left, top, wide, high = card.strip(grouped(card.article), bars=card.article)
    card.stroke((left + 1, top + high), (left + wide - 1, top), pen=0.6)
    card.stroke((left + 1, top), (left + wide - 1, top + high), pen=0.6)


def bars_print_struck(card: Filled) -> None:
    """A strip with bars whose print was struck out."""
    left, top, wide, high = card.strip(grouped(card.article), bars=card.article)
    through(card, left + 5, left + wide - 5, top + high - 1.4)


def _other(article: str) -> str:
    """Another number, alike but for its end."""
    return article[:-2] + ("67" if article.endswith("76") else "76")


def hand_beside_strip(card: Filled) -> None:
    """A number by hand beside a strip with bars."""
    left, top, wide, high = card.writing
    card.strip(grouped(card.article), bars=card.article)
    other = grouped(article_number(card.rng))
    at = (left + wide - 17, top + high - 0.4, 16.0, 3.0)
    write(card.sheet, other[:9], card.hand, at, card.rng)
    place = card.ink[-1]
    if place[0] + place[2] > left + wide - 18:
        write(card.sheet, other, card.hand, (place[0], place[1] - 0.5, wide, 2.8), card.rng)


_LINEAR = ("Code39", "Code93", "Codabar", "ITF", "Code128", "DataBarExpanded", "EAN13")
_SQUARE = ("QRCode", "DataMatrix", "Aztec", "PDF417")
"""What the engines read besides the article's own bars; names as the drawing library has them."""


def _symbol(kind: str, text: str) -> np.ndarray:
    """The modules of a symbol, 1.0 for dark, (rows, columns)."""
    if kind == "EAN13":
        text = text[-13:-1]
    elif kind == "DataBarExpanded":
        text = f"(91){text}"
    elif kind == "Codabar":
        text = f"A{text}A"
    symbol = zxingcpp.create_barcode(text, getattr(zxingcpp.BarcodeFormat, kind))
    image = np.asarray(symbol.to_image(scale=1, add_quiet_zones=False))
    return np.where(image < 128, 1.0, 0.0).astype(np.float32)


def _bars_over_print(
    card: Filled, modules: np.ndarray, text: str, *, share: float = 1.0, at: float = 0.5
) -> None:
    """A strip in that share of the box's width, its middle at that share of it."""
    left, top, wide, high = card.writing
    x = min(0.25, (wide * share - 4) / len(modules))
    size = 2.6 * share**0.5
    across = max(len(modules) * x + 3, len(text) * 0.62 * size + 1)
    strip = Sheet(width_mm=across, height_mm=min(9.0, high), stock=(248, 248, 246))
    strip.bars(1.5, 0.6, modules, module_mm=x, height_mm=strip.height_mm - 4.2)
    strip.text(strip.width_mm / 2, strip.height_mm - 0.7, text,
               Type(size_mm=size, color=(24, 24, 26), face=MONO),
               is_centered=True)  # fmt: skip
    card.sheet.paste(strip, x_mm=left + wide * at, y_mm=top + high / 2, angle_deg=0.5)


def other_bars(card: Filled) -> None:
    """A strip whose bars are of another kind and say another number; its print is right."""
    kind = _LINEAR[int(card.rng.integers(len(_LINEAR)))]
    _bars_over_print(card, _symbol(kind, _other(card.article))[0], grouped(card.article))


def other_symbol(card: Filled) -> None:
    """A strip with a square symbol that says another number; its print is right."""
    kind = _SQUARE[int(card.rng.integers(len(_SQUARE)))]
    modules = _symbol(kind, _other(card.article))
    left, top, wide, high = card.writing
    tall = min(9.0, high)
    x = (tall - 1.6) / len(modules)
    across = modules.shape[1] * x
    strip = Sheet(width_mm=min(wide, across + 42), height_mm=tall, stock=(248, 248, 246))
    for row, line in enumerate(modules):
        strip.bars(0.8, 0.8 + row * x, line, module_mm=x, height_mm=x * 1.02)
    size = min(2.6, 2.6 * (strip.width_mm - across - 3) / 40)
    strip.text(across + 2, tall / 2 + 1, grouped(card.article),
               Type(size_mm=size, color=(24, 24, 26), face=MONO))  # fmt: skip
    card.sheet.paste(strip, x_mm=left + wide / 2, y_mm=top + high / 2, angle_deg=0.5)


def overlaid_strip(card: Filled) -> None:
    """A strip of another number, over whose print a slip with the right one was pasted."""
    left, top, wide, high = card.strip(grouped(_other(card.article)), bars=_other(card.article))
    slip = Sheet(width_mm=min(48.0, wide - 4), height_mm=3.0, stock=(250, 250, 249))
    slip.text(slip.width_mm / 2, 2.5, grouped(card.article),
              Type(size_mm=2.6, color=(24, 24, 26), face=MONO), is_centered=True)  # fmt: skip
    card.sheet.paste(slip, x_mm=left + wide / 2, y_mm=top + high - 1.5, angle_deg=0.3)


def doubled_strip(card: Filled) -> None:
    """Two strips side by side, of which one says another number."""
    other = article_number(card.rng)
    first, second = (card.article, other) if card.rng.random() < 0.5 else (other, card.article)
    for text, at in ((first, 0.25), (second, 0.75)):
        _bars_over_print(card, bar_modules(text, gs1=False), grouped(text), share=0.47, at=at)


def shifted_strip(card: Filled) -> None:
    """A strip of another number that runs over the box's right end and was cut off there: what
    is left of it is how the right number begins."""
    other = card.article[:-4] + f"{(int(card.article[-4:]) + 1357) % 10_000:04}"
    modules = bar_modules(other, gs1=False)
    kept = modules[: round(len(modules) * card.rng.uniform(0.6, 0.75))]
    text = grouped(other)
    text = text[: round(len(text) * card.rng.uniform(0.62, 0.78))]
    _bars_over_print(card, kept, text, share=0.8, at=0.58)


def torn_strip(card: Filled) -> None:
    """A strip torn off so that its bars cannot be read; its print says another number."""
    left, top, wide, high = card.writing
    other = _other(card.article)
    modules = bar_modules(other, gs1=False)[40:]
    strip = Sheet(width_mm=len(modules) * 0.3 + 1, height_mm=min(9.0, high), stock=(248, 248, 246))
    strip.bars(0.0, 0.6, modules, module_mm=0.3, height_mm=strip.height_mm - 3.8)
    strip.text(strip.width_mm / 2, strip.height_mm - 0.6, grouped(card.article),
               Type(size_mm=2.4, color=(24, 24, 26), face=MONO), is_centered=True)  # fmt: skip
    card.sheet.paste(strip, x_mm=left + wide / 2, y_mm=top + high / 2, angle_deg=0.5)

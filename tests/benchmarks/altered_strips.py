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


def other_bars(card: Filled) -> None:
    """A strip whose bars are of another kind and say another number; no print."""
    other = card.article[:-2] + "76"
    kind = [zxingcpp.BarcodeFormat.Code39, zxingcpp.BarcodeFormat.ITF][int(card.rng.integers(2))]
    symbol = zxingcpp.create_barcode(other, kind)
    image = np.asarray(symbol.to_image(scale=1, add_quiet_zones=False))
    modules = np.where(image[0] < 128, 1.0, 0.0).astype(np.float32)
    left, top, wide, high = card.writing
    x = min(0.25, (wide - 4) / len(modules))
    strip = Sheet(width_mm=len(modules) * x + 3, height_mm=min(9.0, high), stock=(248, 248, 246))
    strip.bars(1.5, 0.6, modules, module_mm=x, height_mm=strip.height_mm - 4.2)
    strip.text(strip.width_mm / 2, strip.height_mm - 0.7, grouped(card.article),
               Type(size_mm=2.6, colour=(24, 24, 26), face=MONO), is_centred=True)  # fmt: skip
    card.sheet.paste(strip, x_mm=left + wide / 2, y_mm=top + high / 2, angle_deg=0.5)


def torn_strip(card: Filled) -> None:
    """A strip torn off so that its bars cannot be read; its print says another number."""
    left, top, wide, high = card.writing
    other = card.article[:-2] + "55"
    modules = bar_modules(other, gs1=False)[40:]
    strip = Sheet(width_mm=len(modules) * 0.3 + 1, height_mm=min(9.0, high), stock=(248, 248, 246))
    strip.bars(0.0, 0.6, modules, module_mm=0.3, height_mm=strip.height_mm - 3.8)
    strip.text(strip.width_mm / 2, strip.height_mm - 0.6, grouped(card.article),
               Type(size_mm=2.4, colour=(24, 24, 26), face=MONO), is_centred=True)  # fmt: skip
    card.sheet.paste(strip, x_mm=left + wide / 2, y_mm=top + high / 2, angle_deg=0.5)

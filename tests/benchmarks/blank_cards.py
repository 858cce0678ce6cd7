"""Cards of the designs drawn flat as they come from the printer."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pairing.demo.paper import grouped
from pairing.demo.sheet import BOLD, PX_PER_MM, Sheet, Type, bar_modules
from tests.benchmarks.designs import COMB_CELLS, INK_BLACK, Design


def blank(design: Design, card: str) -> Sheet:
    """The card as it comes from the printer; card: its own number, "" for none printed."""
    sheet = Sheet(width_mm=design.size[0], height_mm=design.size[1], stock=design.stock)
    small = Type(size_mm=2.5, color=design.ink, face=design.face)
    words = design.words
    for rect, key in design.fields:
        sheet.frame(rect, design.ink, line_mm=design.rule_mm)
        if key:
            sheet.text(rect[0] + 1.2, rect[1] + 3.2, getattr(words, key), small)
    x, y, is_band = design.title
    if is_band:
        sheet.fill(x, y - 3.0, design.size[0] - 2 * x, 5.2, design.ink)
        sheet.text(x + 2, y + 1.0, words.title, Type(size_mm=3.4, color=design.stock, face=BOLD))
    else:
        sheet.text(x, y, words.title, Type(size_mm=4.6, color=design.ink, face=BOLD))
    if design.checks:
        for at, service in enumerate(words.services):
            cx, cy = design.checks[0] + at // 3 * 26, design.checks[1] + at % 3 * 6.5
            sheet.frame((cx, cy, 2.6, 2.6), design.ink, line_mm=0.2)
            sheet.text(cx + 4, cy + 2.4, service, small)
    _print_box(sheet, design)
    if design.bars and card:
        _print_bars(sheet, design, card)
    return sheet


def _print_box(sheet: Sheet, design: Design) -> None:
    left, top, wide, high = design.box
    small = Type(size_mm=2.5, color=design.ink, face=design.face)
    if design.box_kind in ("frame", "comb"):
        sheet.frame(design.box, design.ink, line_mm=design.rule_mm)
    if design.box_kind == "line":
        sheet.fill(left, top + high, wide, design.rule_mm, design.ink)
    if design.box_kind == "comb":
        for at in range(1, COMB_CELLS):
            x = left + at * wide / COMB_CELLS
            sheet.fill(x, top, design.rule_mm, high, design.ink)
    if design.caption == "inside":
        sheet.text(left + 1.0, top + 3.0, design.words.number, small)
    else:
        sheet.text(left, top - 0.9, design.words.number, small)
    if design.has_footer:
        foot = Type(size_mm=2.4, color=design.ink, face=BOLD)
        sheet.text(left + 1.0, top + high - 0.9, design.words.footer, foot)


def _print_bars(sheet: Sheet, design: Design, card: str) -> None:
    assert design.bars is not None
    x, y, turn, module, high = design.bars
    modules = bar_modules(card, gs1=False)
    wide = len(modules) * module
    part = Sheet(width_mm=wide + 2, height_mm=high + 4.5, stock=design.stock)
    part.bars(1.0, 0.2, modules, module_mm=module, height_mm=high)
    part.text(1 + wide / 2, high + 3.6, grouped(card),
              Type(size_mm=3.2, color=INK_BLACK), is_centered=True)  # fmt: skip
    if turn == 0:
        _lay(sheet, part.pixels, x, y)
    else:
        _lay(sheet, np.rot90(part.pixels, -1), x, y)


def _lay(sheet: Sheet, pixels: NDArray[np.float32], x: float, y: float) -> None:
    whole = sheet.pixels
    top, left = round(y * PX_PER_MM), round(x * PX_PER_MM)
    part = pixels[: whole.shape[0] - top, : whole.shape[1] - left]
    whole[top : top + part.shape[0], left : left + part.shape[1]] = part
    sheet.replace(whole)

"""A scene: a table, a card with or without a number in its box, perhaps a label beside it."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.training.finder import captions
from pairing.training.finder.altering import (
    ALTERED,
    Written,
    alter,
    print_number,
    stamp_over,
    whited,
    write_number,
    write_strip,
)
from pairing.training.finder.canvas import PAPER, PRINT, PX_PER_MM, WRITING, Canvas
from pairing.training.finder.card_layouts import Layout, layout_of
from pairing.training.finder.filling import Filler, placed, strip_sheet
from pairing.training.finder.materials import Hand, Materials, Rng

SIZE_MM = (208.0, 168.0)
"""Of the scene."""
NUMBERED = 0.72
"""Of cards with a box so many have something in it."""
CLEAN, ALTERED_LINE, UNTOLD = 0, 1, 2


@dataclass(slots=True)
class Scene:
    """gray, kinds: (h, w) uint8 at `PX_PER_MM`. altered: CLEAN, ALTERED_LINE or UNTOLD. middle:
    of the card, or of its number where it has one, and card, number: left, top, right, foot, px."""

    gray: NDArray[np.uint8]
    kinds: NDArray[np.uint8]
    altered: int
    card: tuple[float, float, float, float]
    number: tuple[float, float, float, float] | None


def draw(materials: Materials, rng: Rng) -> Scene:
    """A scene at random."""
    canvas = _table(rng)
    layout = layout_of(rng)
    wide, high = layout.size
    at = ((SIZE_MM[0] - wide) * rng.uniform(0.3, 0.7), (SIZE_MM[1] - high) * rng.uniform(0.3, 0.7))
    if rng.random() < 0.3:
        _label(canvas, materials, rng, at)
    _card(canvas, rng, at, layout.size)
    filler = Filler(canvas, materials, rng, at)
    filler.form(layout)
    number, altered = None, CLEAN
    if layout.box is not None:
        number, altered = _box(filler, layout)
    if rng.random() < 0.25:
        filler.postmark(rng.uniform(0, wide), rng.uniform(0, high))
        altered = UNTOLD if altered == CLEAN else altered
    if rng.random() < 0.06:
        _label(canvas, materials, rng, at)
    card = tuple(v * PX_PER_MM for v in (at[0], at[1], at[0] + wide, at[1] + high))
    return Scene(canvas.gray, canvas.kinds, altered, card, number.rect if number else None)  # type: ignore[arg-type]


def _table(rng: Rng) -> Canvas:
    light = float(rng.uniform(25, 235))
    canvas = Canvas(*SIZE_MM, light=light)
    high, wide = canvas.gray.shape
    small = rng.normal(0, 1, (int(rng.integers(3, 90)), int(rng.integers(3, 40)))).astype(
        np.float32
    )
    grain = cv2.resize(small, (wide, high), interpolation=cv2.INTER_LINEAR) * float(
        rng.uniform(0, 16)
    )
    if rng.random() < 0.3:
        # Grain of wood: long fine streaks.
        streaks = (
            rng.normal(0, 1, (high, wide // 60))
            if rng.random() < 0.5
            else rng.normal(0, 1, (high // 60, wide))
        )
        long = cv2.resize(streaks.astype(np.float32), (wide, high), interpolation=cv2.INTER_LINEAR)
        grain = grain + long * float(rng.uniform(3, 14))
    canvas.gray = np.clip(canvas.gray + grain, 0, 255).astype(np.uint8)
    return canvas


def _card(canvas: Canvas, rng: Rng, at: tuple[float, float], size: tuple[float, float]) -> None:
    wide, high = (round(v * PX_PER_MM) for v in size)
    stock = float(rng.uniform(165, 252))
    sheet = np.full((high, wide), stock, np.uint8)
    if rng.random() < 0.12:
        step = int(rng.integers(5, 16))
        depth = float(rng.uniform(4, 22))
        if rng.random() < 0.5:
            sheet[::step] = stock - depth
        else:
            sheet[(np.add.outer(np.arange(high), np.arange(wide)) % step) < 2] = stock - depth
    if rng.random() < 0.12:
        y, x = int(rng.integers(high)), int(rng.integers(wide))
        sheet[y : y + int(rng.integers(60, 300)), x : x + int(rng.integers(200, 900))] = max(
            60, stock - rng.uniform(8, 60)
        )
    middle = (at[0] + size[0] / 2, at[1] + size[1] / 2)
    canvas.paste(
        sheet, np.zeros(sheet.shape, np.uint8), placed(sheet, *middle, float(rng.normal(0, 0.05)))
    )


def _label(canvas: Canvas, materials: Materials, rng: Rng, at: tuple[float, float]) -> None:
    """A label with bars and a number: never the box's."""
    wide, high = float(rng.uniform(70, 105)), float(rng.uniform(40, 140))
    sheet = Canvas(wide, high, float(rng.uniform(225, 254)))
    number, kinds = strip_sheet(materials, rng, captions.grouped(rng, captions.number(rng)), mm=float(rng.uniform(2.2, 4)),
                                has_bars=True, number=PRINT, wide_mm=wide - 8)  # fmt: skip
    y, x = round(high * 0.5 * PX_PER_MM), 20
    tall, broad = (
        min(number.shape[0], sheet.gray.shape[0] - y),
        min(number.shape[1], sheet.gray.shape[1] - x),
    )
    sheet.gray[y : y + tall, x : x + broad] = number[:tall, :broad]
    sheet.kinds[y : y + tall, x : x + broad] = kinds[:tall, :broad]
    filler = Filler(sheet, materials, rng, (0.0, 0.0))
    filler.print(
        4,
        4,
        str(rng.choice(["TRACKED", "REGISTERED", "RECOMMANDÉ", "EINSCHREIBEN"])),
        5.5,
        light=20,
        most=wide - 6,
    )
    for index, line in enumerate(captions.address(rng)):
        filler.print(6, 14 + 4.4 * index, line, 3.0, light=20, most=wide - 8)
    sides = [(at[0] - wide * 0.3, rng.uniform(10, 150)), (SIZE_MM[0] - rng.uniform(-20, 25), rng.uniform(10, 150)),
             (rng.uniform(20, 190), rng.uniform(-15, 8)), (rng.uniform(20, 190), SIZE_MM[1] - rng.uniform(-15, 8))]  # fmt: skip
    where = sides[int(rng.integers(4))]
    canvas.paste(
        sheet.gray,
        sheet.kinds,
        placed(sheet.gray, *where, float(rng.choice([0, 0, 90, 180]) + rng.normal(0, 4))),
    )


def _box(filler: Filler, layout: Layout) -> tuple[Written | None, int]:
    """The number's box: its rules, words, and what is written in it."""
    rng, _canvas = filler.rng, filler.canvas
    assert layout.box is not None
    left, top, wide, high = layout.box
    box = (left + filler.at[0], top + filler.at[1], wide, high)
    _rules(filler, layout, box)
    inner = _captions(filler, layout)
    if rng.random() > NUMBERED:
        if rng.random() < 0.3:
            filler.by_hand(
                left + 3, top + high * 0.3, captions.pick(rng, captions.NAMES), high * 0.3, wide - 6
            )
        elif rng.random() < 0.2:
            filler.digits_by_hand(
                left + 3,
                top + high * 0.3,
                captions.short_number(rng),
                min(4.0, high * 0.4),
                wide - 6,
            )
        return None, CLEAN
    return _fill(
        filler, layout, (inner[0] + filler.at[0], inner[1] + filler.at[1], inner[2], inner[3])
    )


def _rules(filler: Filler, layout: Layout, box: tuple[float, float, float, float]) -> None:
    canvas, rng = filler.canvas, filler.rng
    left, top, wide, high = box
    if layout.box_kind == "frame":
        canvas.frame(box, layout.pen, filler.form_light)
    elif layout.box_kind == "line":
        canvas.rule(left, top + high, left + wide, top + high, layout.pen, filler.form_light)
        if rng.random() < 0.2:
            canvas.rule(left, top, left + wide, top, layout.pen, filler.form_light)
    elif layout.box_kind == "comb":
        many = 22
        is_open = rng.random() < 0.4
        canvas.rule(left, top + high, left + wide, top + high, layout.pen, filler.form_light)
        if not is_open:
            canvas.rule(left, top, left + wide, top, layout.pen, filler.form_light)
        for at in range(many + 1):
            x = left + wide * at / many
            canvas.rule(
                x,
                top + (high * 0.6 if is_open else 0),
                x,
                top + high,
                layout.pen * 0.8,
                filler.form_light,
            )


def _captions(filler: Filler, layout: Layout) -> tuple[float, float, float, float]:
    """The box's words; what room is left inside it, mm of the card."""
    assert layout.box is not None
    rng = filler.rng
    left, top, wide, high = layout.box
    words = captions.pick(rng, captions.NUMBERS)
    is_wall = layout.style == "walls" and layout.box_kind == "frame"
    where = str(
        rng.choice(
            ["inside", "above", "left", "none"],
            p=[0.8, 0.0, 0.1, 0.1] if is_wall else [0.2, 0.55, 0.1, 0.15],
        )
    )
    mm = filler.caption_mm * float(rng.uniform(0.8, 1.2))
    if where == "inside" and high > 9 and layout.box_kind != "comb":
        filler.print(left + 1.2, top + 0.8, words, mm, most=wide - 2)
        if rng.random() < 0.25 and high > 13:
            filler.print(
                left + 1.2,
                top + 0.9 + 1.5 * mm,
                captions.pick(rng, captions.FOOTERS),
                1.5,
                most=wide - 2,
            )
            top, high = top + 2.2, high - 2.2
        top, high = top + 1.5 * mm + 0.6, high - 1.5 * mm - 0.6
    elif where == "above":
        filler.print(left + 0.5, top - 1.6 * mm - 0.3, words, mm, most=wide)
    elif where == "left" and layout.box_kind != "comb":
        took = filler.print(left + 0.8, top + high * 0.4, words, mm, most=wide * 0.28)
        if wide - took > 52:
            left, wide = left + took + 1.5, wide - took - 1.5
    if rng.random() < 0.2 and high > 9 and layout.box_kind != "comb":
        filler.print(
            left + 1.2, top + high - 2.6, captions.pick(rng, captions.FOOTERS), 1.6, most=wide - 2
        )
        high -= 3.0
    return left, top, wide, high


def _fill(
    filler: Filler, layout: Layout, inner: tuple[float, float, float, float]
) -> tuple[Written, int]:
    rng, canvas, materials = filler.rng, filler.canvas, filler.materials
    way = str(rng.choice(["hand", "strip", "bars", "print"], p=[0.56, 0.22, 0.14, 0.08]))
    is_altered = rng.random() < ALTERED
    if is_altered and rng.random() < 0.22:
        return _two(filler, layout, inner, way), ALTERED_LINE
    if way == "hand":
        number = write_number(canvas, materials, rng, inner, layout.box_kind)
    elif way == "print" and layout.box_kind != "comb":
        number = print_number(canvas, materials, rng, inner)
    else:
        number = write_strip(canvas, materials, rng, inner, has_bars=way == "bars")
    if is_altered:
        if way == "hand" and rng.random() < 0.08:
            whited(number)
        else:
            alter(number)
        return number, ALTERED_LINE
    if rng.random() < 0.05:
        stamp_over(number)
        return number, UNTOLD
    return number, CLEAN


def _two(
    filler: Filler, layout: Layout, inner: tuple[float, float, float, float], way: str
) -> Written:
    """Two numbers in the box, the first struck or not; or a hand's beside a strip's."""
    rng, canvas, materials = filler.rng, filler.canvas, filler.materials
    left, top, wide, high = inner
    upper, lower = (
        (left, top - 0.06 * high, wide, high * 0.52),
        (left, top + 0.5 * high, wide, high * 0.5),
    )
    if way in {"strip", "bars"}:
        number = write_strip(canvas, materials, rng, inner, has_bars=way == "bars", down=0.3)
        below = lower if rng.random() < 0.7 else upper
        write_number(canvas, materials, rng, below, "free", tall=float(rng.uniform(1.8, 3.5)))
        return number
    first = write_number(canvas, materials, rng, upper, "free")
    if rng.random() < 0.7:
        alter(first)
    return write_number(
        canvas,
        materials,
        rng,
        lower,
        "free",
        hand=Hand.any(materials, rng, PX_PER_MM) if rng.random() < 0.3 else first.hand,
    )


__all__ = ["PAPER", "WRITING", "Scene", "draw"]

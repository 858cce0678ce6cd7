"""The number in the box, and what people do to it: strike, scribble, write over, put in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from pairing.training.finder import captions
from pairing.training.finder.canvas import NUMBER, PRINT, PX_PER_MM, STROKE, Canvas
from pairing.training.finder.card_layouts import Rect
from pairing.training.finder.filling import placed, strip_sheet
from pairing.training.finder.materials import Alpha, Hand, Materials, Rng

ALTERED = 0.4
"""Of numbers so many are altered."""


@dataclass(slots=True)
class Written:
    """A number on the canvas. places: each character's left, top, right, foot, px."""

    places: list[tuple[float, float, float, float]]
    text: str
    hand: Hand
    light: float
    canvas: Canvas
    rng: Rng

    @property
    def rect(self) -> tuple[float, float, float, float]:
        """left, top, right, foot of the line, px."""
        at = np.array(self.places)
        return (float(at[:, 0].min()), float(np.median(at[:, 1])),
                float(at[:, 2].max()), float(np.median(at[:, 3])))  # fmt: skip

    def stroke(
        self, points_px: np.ndarray, *, pen: float | None = None, light: float | None = None
    ) -> None:
        """A stroke through points (n, 2), px."""
        pen = self.hand.pen_px * float(self.rng.uniform(0.7, 1.5)) if pen is None else pen
        light = self.light if light is None else light
        self.canvas.line(
            points_px / PX_PER_MM, pen / PX_PER_MM, light, STROKE, float(self.rng.uniform(0.6, 1.0))
        )


def write_number(
    canvas: Canvas, materials: Materials, rng: Rng, box: Rect, kind: str, *,
    text: str | None = None, hand: Hand | None = None, kind_px: int = NUMBER, tall: float | None = None,
) -> Written:  # fmt: skip
    """Write a number by hand into a box (mm of the canvas); in a comb one digit a cell."""
    hand = hand or Hand.any(materials, rng, PX_PER_MM)
    text = text or captions.grouped(rng, captions.number(rng))
    _left, _top, wide, high = box
    tall = tall or float(min(rng.uniform(2.8, 6.0), high * rng.uniform(0.45, 0.85)))
    light = float(rng.choice([rng.uniform(8, 60), rng.uniform(50, 130)], p=[0.75, 0.25]))
    if kind == "comb":
        return _comb(canvas, hand, text.replace(" ", ""), box, light, kind_px)
    inks = [hand.character(c, tall * PX_PER_MM) if c != " " else None for c in text]
    tight = rng.uniform(-0.03, 0.35) * tall * PX_PER_MM
    group = rng.uniform(0.25, 0.9) * tall * PX_PER_MM
    steps = [
        group if ink is None else ink.shape[1] + tight + rng.normal(0, 0.05) * tall * PX_PER_MM
        for ink in inks
    ]
    scale = min(1.0, (wide - 1) * PX_PER_MM / max(1.0, sum(steps)))
    if scale < 0.97 and rng.random() < 0.9:
        return write_number(canvas, materials, rng, box, kind, text=text, hand=hand, kind_px=kind_px,
                            tall=max(1.8, tall * min(scale, 0.92))) if tall > 1.9 else _placed(canvas, hand, text, inks, steps, box, tall, light, kind_px)  # fmt: skip
    return _placed(canvas, hand, text, inks, steps, box, tall, light, kind_px)


def _placed(
    canvas: Canvas, hand: Hand, text: str, inks: list[Alpha | None], steps: list[float], box: Rect, tall: float,
    light: float, kind_px: int,
) -> Written:  # fmt: skip
    rng = hand.rng
    left, top, wide, high = (v * PX_PER_MM for v in box)
    spare = max(0.0, wide - sum(steps))
    x = left + rng.uniform(0.02, 0.98) * spare
    foot = (
        top
        + high
        - rng.choice([rng.uniform(0.0, 0.12), rng.uniform(0.05, 0.45)])
        * max(0.0, high - tall * PX_PER_MM)
    )
    drift = rng.normal(0, 0.012)
    places = []
    for ink, step in zip(inks, steps, strict=True):
        if ink is not None:
            y = foot + drift * (x - left) + rng.normal(0, 0.04) * tall * PX_PER_MM - ink.shape[0]
            canvas.put(ink * np.float32(rng.uniform(0.75, 1.0)), x, y, light, kind_px)
            places.append((x, y, x + ink.shape[1], y + ink.shape[0]))
        x += step
    return Written(places, text.replace(" ", ""), hand, light, canvas, rng)


def _comb(canvas: Canvas, hand: Hand, text: str, box: Rect, light: float, kind_px: int) -> Written:
    rng = hand.rng
    left, top, wide, high = (v * PX_PER_MM for v in box)
    pitch = wide / max(20, len(text))
    tall = high * rng.uniform(0.5, 0.85)
    places = []
    for at, char in enumerate(text):
        ink = hand.character(char, tall)
        x = left + (at + 0.5) * pitch - ink.shape[1] / 2 + rng.normal(0, 0.06) * pitch
        y = top + (high - ink.shape[0]) / 2 + rng.normal(0, 0.06) * high
        canvas.put(ink, x, y, light, kind_px)
        places.append((x, y, x + ink.shape[1], y + ink.shape[0]))
    return Written(places, text, hand, light, canvas, rng)


def write_strip(
    canvas: Canvas, materials: Materials, rng: Rng, box: Rect, *, has_bars: bool, text: str | None = None,
    down: float = 0.5,
) -> Written:  # fmt: skip
    """Stick a printed strip into a box (mm of the canvas)."""
    left, top, wide, high = box
    text = text or captions.grouped(rng, captions.number(rng))
    mm = float(rng.uniform(1.8, 3.0) if has_bars else rng.uniform(2.2, 4.8))
    gray, kinds = strip_sheet(materials, rng, text, mm=mm, has_bars=has_bars, number=NUMBER,
                              wide_mm=min(wide * 1.05, rng.uniform(48, 84)))  # fmt: skip
    slack = max(0.0, wide - gray.shape[1] / PX_PER_MM)
    x = left + wide / 2 + rng.uniform(-0.5, 0.5) * slack
    place = placed(gray, x, top + high * down + rng.normal(0, 0.5), float(rng.normal(0, 1.2)))
    canvas.paste(gray, kinds, place)
    return _strip_places(canvas, materials, rng, kinds, place, text.replace(" ", ""))


def _strip_places(
    canvas: Canvas, materials: Materials, rng: Rng, kinds: np.ndarray, place: np.ndarray, text: str
) -> Written:
    rows, cols = np.nonzero(kinds == NUMBER)
    if not len(rows):
        rows, cols = np.array([0, 1]), np.array([0, len(text)])
    ends = (
        np.array([(cols.min(), rows.min()), (cols.max(), rows.max())], float) @ place[:, :2].T
        + place[:, 2]
    )
    pitch = (ends[1, 0] - ends[0, 0]) / max(1, len(text))
    places = [
        (ends[0, 0] + at * pitch, ends[0, 1], ends[0, 0] + (at + 1) * pitch, ends[1, 1])
        for at in range(len(text))
    ]
    return Written(
        places, text, Hand.any(materials, rng, PX_PER_MM), float(rng.uniform(8, 110)), canvas, rng
    )


def print_number(canvas: Canvas, materials: Materials, rng: Rng, box: Rect) -> Written:
    """A number typed or printed into the box, without a strip."""
    left, top, wide, high = box
    before = canvas.gray.copy()
    sheet, kinds = strip_sheet(materials, rng, captions.grouped(rng, captions.number(rng)), mm=float(rng.uniform(2, 4)),
                               has_bars=False, number=NUMBER, wide_mm=wide - 2)  # fmt: skip
    place = placed(
        sheet, left + wide / 2, top + high * rng.uniform(0.4, 0.75), float(rng.normal(0, 0.4))
    )
    sorts = canvas.kinds.copy()
    canvas.paste(sheet, kinds, place)
    ink = canvas.kinds == NUMBER
    canvas.gray[:] = np.where(ink, canvas.gray, before)
    canvas.kinds[:] = np.where(ink, canvas.kinds, sorts)
    return _strip_places(canvas, materials, rng, kinds, place, "0" * 22)


def _between(number: Written, first: int, last: int) -> tuple[float, float, float, float]:
    at = np.array(number.places[first : last + 1])
    return (
        float(at[:, 0].min()),
        float(at[:, 1].min()),
        float(at[:, 2].max()),
        float(at[:, 3].max()),
    )


def strike(number: Written, first: int, last: int) -> None:
    """One to three strokes through characters, of many forms."""
    rng = number.rng
    left, top, right, foot = _between(number, first, last)
    high, over = foot - top, rng.uniform(-0.1, 0.4) * (foot - top)
    kind = rng.choice(["straight", "slant", "x", "wave", "zigzag"], p=[0.45, 0.2, 0.1, 0.15, 0.1])
    pen = number.hand.pen_px * float(rng.uniform(0.6, 1.8))
    light = number.light if rng.random() < 0.7 else float(rng.uniform(10, 120))
    t = np.linspace(0, 1, 40)
    x = left - over + t * (right - left + 2 * over)
    middle = top + high * rng.uniform(0.3, 0.7)
    for _ in range(int(rng.choice([1, 2, 3], p=[0.65, 0.25, 0.1]))):
        if kind == "straight":
            y = (
                middle
                + rng.normal(0, 0.04) * high
                + rng.normal(0, 0.08) * high * (t - 0.5)
                + rng.normal(0, 0.02, 40).cumsum() * high * 0.1
            )
        elif kind == "slant":
            y = foot - t * high if rng.random() < 0.7 else top + t * high
        elif kind == "x":
            number.stroke(np.stack([x, top + t * high], 1), pen=pen, light=light)
            y = foot - t * high
        elif kind == "wave":
            y = middle + 0.3 * high * np.sin(
                t * max(3.0, (right - left) / high) * rng.uniform(2, 6)
            )
        else:
            many = max(4, round((right - left) / high * rng.uniform(1, 3)))
            t2 = np.linspace(0, 1, many)
            x, t = left + t2 * (right - left), t2
            y = np.where(np.arange(many) % 2, top, foot)
            kind = "done"
        number.stroke(np.stack([x[: len(y)], y], 1), pen=pen, light=light)
        if kind == "done":
            return
        middle += rng.uniform(0.12, 0.3) * high


def _strike_all(number: Written) -> None:
    strike(number, 0, len(number.places) - 1)


def _strike_some(number: Written) -> None:
    many = int(number.rng.integers(2, 9))
    first = int(number.rng.integers(0, max(1, len(number.places) - many)))
    strike(number, first, min(len(number.places) - 1, first + many))


def _strike_one(number: Written) -> None:
    at = int(number.rng.integers(len(number.places)))
    strike(number, at, at)


def _over(number: Written) -> None:
    for _ in range(int(number.rng.integers(1, 3))):
        at = int(number.rng.integers(len(number.places)))
        x, top, _right, foot = number.places[at]
        ink = number.hand.character(
            str(number.rng.integers(10)), (foot - top) * number.rng.uniform(0.95, 1.4)
        )
        number.canvas.put(
            ink,
            x + number.rng.normal(0, 2),
            foot - ink.shape[0] + number.rng.normal(0, 2),
            number.light * 0.9,
            STROKE,
        )


def _scribble(number: Written) -> None:
    many = int(number.rng.integers(1, 6))
    first = int(number.rng.integers(0, max(1, len(number.places) - many)))
    left, top, right, foot = _between(number, first, min(len(number.places) - 1, first + many - 1))
    t = np.linspace(0, 1, int(20 * many) + 20)
    x = left + (right - left) * (t + 0.15 * np.sin(t * 40 * many))
    y = (top + foot) / 2 + (foot - top) * 0.55 * np.sin(t * number.rng.uniform(15, 45) * many)
    number.stroke(np.stack([x, y], 1))


def _put_in(number: Written) -> None:
    at = int(number.rng.integers(len(number.places)))
    _x, top, right, foot = number.places[at]
    high = (foot - top) * number.rng.uniform(0.4, 0.75)
    is_above = number.rng.random() < 0.7
    for index in range(int(number.rng.integers(1, 4))):
        ink = number.hand.character(str(number.rng.integers(10)), high)
        y = top - ink.shape[0] - 2 if is_above else foot + 2
        number.canvas.put(
            ink, right - ink.shape[1] / 2 + index * ink.shape[1] * 1.2, y, number.light, STROKE
        )
    if number.rng.random() < 0.5:
        number.stroke(
            np.array([(right - 8, foot + 8), (right, foot - 2), (right + 8, foot + 8)]), pen=3
        )


def _dots(number: Written) -> None:
    left, _top, right, foot = _between(number, 0, len(number.places) - 1)
    for x in np.arange(left, right, number.rng.uniform(14, 40)):
        number.stroke(np.array([(x, foot + 8), (x + 1, foot + 9)]), pen=number.hand.pen_px)


def _circled(number: Written) -> None:
    at = int(number.rng.integers(len(number.places)))
    left, top, right, foot = _between(
        number, at, min(len(number.places) - 1, at + int(number.rng.integers(0, 4)))
    )
    t = np.linspace(0, 6.6, 50)
    number.stroke(
        np.stack(
            [
                (left + right) / 2 + (right - left) * 0.75 * np.cos(t),
                (top + foot) / 2 + (foot - top) * 0.75 * np.sin(t),
            ],
            1,
        )
    )


ONES: tuple[tuple[Callable[[Written], None], float], ...] = (
    (_strike_all, 0.26), (_strike_some, 0.2), (_strike_one, 0.16), (_over, 0.12),
    (_scribble, 0.1), (_put_in, 0.1), (_dots, 0.02), (_circled, 0.04),
)  # fmt: skip


def alter(number: Written) -> None:
    """One alteration, or two."""
    shares = np.array([share for _, share in ONES])
    for _ in range(1 if number.rng.random() < 0.85 else 2):
        ONES[int(number.rng.choice(len(ONES), p=shares / shares.sum()))][0](number)


def whited(number: Written) -> None:
    """A few characters covered by fluid or a slip, and written anew."""
    many = int(number.rng.integers(1, 6))
    first = int(number.rng.integers(0, max(1, len(number.places) - many)))
    left, top, right, foot = _between(number, first, min(len(number.places) - 1, first + many - 1))
    size = (max(3, round(foot - top) + 6), max(3, round(right - left) + 6))
    sheet = np.full(size, number.rng.uniform(225, 252), np.uint8)
    number.canvas.paste(sheet, np.full(size, STROKE, np.uint8),
                        placed(sheet, (left + right) / 2 / PX_PER_MM, (top + foot) / 2 / PX_PER_MM, float(number.rng.normal(0, 3))))  # fmt: skip
    for x, y, _, below in number.places[first : first + many]:
        ink = number.hand.character(str(number.rng.integers(10)), below - y)
        number.canvas.put(ink, x, below - ink.shape[0], number.light, NUMBER)


def stamp_over(number: Written) -> None:
    """A cancellation's waves or ring over the number: what it hides nobody may guess."""
    left, top, right, foot = _between(number, 0, len(number.places) - 1)
    rng = number.rng
    light = float(rng.uniform(40, 120))
    x0 = rng.uniform(left, right)
    around = np.linspace(0, 6.3, 60)
    radius = rng.uniform(80, 150)
    points = np.stack(
        [
            x0 + radius * np.cos(around),
            (top + foot) / 2 + rng.uniform(-1, 1) * radius + radius * np.sin(around),
        ],
        1,
    )
    number.canvas.line(points / PX_PER_MM, 0.4, light, PRINT, float(rng.uniform(0.4, 0.9)))

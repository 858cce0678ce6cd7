"""Strokes through single characters: one digit of a number that was struck out.

A digit's own strokes end where it ends. What goes through it from side to side and past it was
drawn over it, unless it is a 4 or a 7.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.written.frame import Mark
from pairing.photos.written.ink_rows import fitted, middles, tall_of

_TALL_PX = 30
"""Height of the line's characters where a stroke is looked for, px."""
_CHARACTER = (0.6, 1.5)
"""Height and width of a mark that is one character, in the line's height."""
_END = 0.14
"""A stroke sticks out of a character on both sides by so much of the line's height."""
_BAND_END, _MIDDLE = 0.3, (0.25, 0.72)
_MOST_LEAN = 0.4
_STROKE_PX = 2
_GOES_THROUGH = 0.9
BARRED = frozenset("47")
"""Digits with a stroke of their own from side to side."""


def barred_marks(ink: NDArray[np.uint8], row: list[Mark]) -> list[Mark]:
    """Marks of one character through which a stroke goes from side to side, as in a 4, and
    sticks out at both: a digit that has no such stroke was struck out by it."""
    tall = tall_of(row)
    return [mark for mark in row if _is_barred(ink, mark, tall)]


def _is_barred(ink: NDArray[np.uint8], mark: Mark, tall: float) -> bool:
    x, y, wide, high = (int(v) for v in mark)
    low, most = _CHARACTER[0] * tall, _CHARACTER[1] * tall
    if not (low < high < most and low < wide < most):
        return False
    part = ink[y : y + high, x : x + wide] > 0
    end = max(2, round(_END * tall))
    left = np.flatnonzero(part[:, :end].any(1))
    right = np.flatnonzero(part[:, -end:].any(1))
    if not len(left) or not len(right) or max(np.ptp(left), np.ptp(right)) > _BAND_END * tall:
        return False
    start, stop = float(left.mean()), float(right.mean())
    is_middle = all(_MIDDLE[0] < at / high < _MIDDLE[1] for at in (start, stop))
    if not is_middle or abs(start - stop) > _MOST_LEAN * wide:
        return False
    columns = np.linspace(0, wide - 1, 24).astype(int)
    rows = np.linspace(start, stop, 24).astype(int)
    inked = [
        part[max(0, at - _STROKE_PX) : at + _STROKE_PX + 1, column].any()
        for at, column in zip(rows, columns, strict=True)
    ]
    return float(np.mean(inked)) > _GOES_THROUGH


_AROUND = 1.3
"""In distances between characters: a stroke through one is looked for so far to both sides."""
_RISES = (-0.3, -0.2, -0.1, 0.0, 0.1, 0.2, 0.3)
_LEVELS = (-0.25, -0.19, -0.13, -0.07, 0.0, 0.07, 0.13, 0.19, 0.25)
"""Where, in the line's height from its middle, and how aslant it may go."""
_PEN = 0.09
"""Half a pen's width, in the line's height: what is so near the stroke is the stroke."""
_PAST = 0.2
"""So far, in the line's height, it goes on past all that is left of the character without it."""
_THROUGH, _THROUGH_SEVEN = 0.3, 0.2
"""So much of a character to both sides of its middle, in distances between characters, it covers;
of a 7 it sticks out of its one stroke by so much."""
_BEYOND_PENS, _BEYOND = 1.0, 0.06
"""Above and below a stroke, the character goes on by more than a pen's width and so much of the
line's height."""
_NEXT = 1.2
"""In the same: a 7's own bar does not go on past the next digit's middle. On right cards by hand of
`tests.benchmarks.lost` (seeds 200 to 229) it reached 0.8 at level phone, 1.15 at hard, where digits
run together."""


def is_struck_through(
    ink: NDArray[np.uint8], row: list[Mark], middle: float, pitch: float, *, is_seven: bool
) -> bool:
    """Whether a stroke goes through a character from side to side and on past it, though it joins
    the next one. middle: the character's, px along the row; pitch: between characters, px;
    is_seven: it may have a bar of its own, which does not go on into the next one."""
    tall = tall_of(row)
    slope, at = fitted(*middles(row))
    reach = _AROUND * pitch
    size = (2 * round(reach / tall * _TALL_PX) + 1, 2 * round(0.7 * _TALL_PX) + 1)
    step = tall / _TALL_PX
    left, top = middle - size[0] // 2 * step, -(size[1] // 2) * step
    matrix = np.array([[step, 0, left], [slope * step, step, at + slope * left + top]])
    flags = cv2.INTER_AREA | cv2.WARP_INVERSE_MAP
    part = np.asarray(cv2.warpAffine(ink, matrix, size, flags=flags) > 110, np.uint8)
    thick = cv2.dilate(part, np.ones((2, 1), np.uint8))
    xs = np.arange(size[0])
    center = size[0] // 2
    near = round((_THROUGH_SEVEN if is_seven else _THROUGH) * pitch / step)
    most = _NEXT * pitch / step
    for level in _LEVELS:
        for rise in _RISES:
            ys = np.round(size[1] / 2 + level * _TALL_PX + rise * (xs - center)).astype(int)
            inside = (ys >= 0) & (ys < size[1])
            run = _run_through(thick[np.clip(ys, 0, size[1] - 1), xs] * inside > 0, center, near)
            if run is None:
                continue
            is_past = (
                max(center - run[0], run[1] - center) > most
                if is_seven
                else _goes_past(part, ys, run, center, near)
            )
            if is_past and _is_within(part, ys, center, near):
                return True
    return False


def _is_within(part: NDArray[np.uint8], ys: NDArray[np.int64], center: int, near: int) -> bool:
    """Whether the character goes on above a stroke and below it: a 2's foot and a 7's head are its
    own, and have nothing beyond them."""
    middle = slice(center - near, center + near + 1)
    rows, columns = np.nonzero(part[:, middle])
    off = rows - ys[middle][columns]
    beyond = _BEYOND_PENS * _pen_px(part) + _BEYOND * _TALL_PX
    return bool(len(off)) and bool(off.max() >= beyond and -off.min() >= beyond)


def _pen_px(part: NDArray[np.uint8]) -> float:
    """About how wide the strokes are."""
    depth = cv2.distanceTransform(part, cv2.DIST_L2, 3)
    ridge = depth[(depth >= cv2.dilate(depth, np.ones((3, 3), np.uint8))) & (depth > 0)]
    return 2.0 * float(np.median(ridge)) if len(ridge) else 0.0


def _run_through(inked: NDArray[np.bool_], center: int, near: int) -> tuple[int, int] | None:
    """The stretch of ink that all of a character's middle is in; None where there is none."""
    if not inked[center - near : center + near + 1].all():
        return None
    before, after = np.flatnonzero(~inked[:center]), np.flatnonzero(~inked[center:])
    return (
        int(before[-1]) + 1 if len(before) else 0,
        center + (int(after[0]) - 1 if len(after) else len(inked) - 1 - center),
    )


def _goes_past(
    part: NDArray[np.uint8], ys: NDArray[np.int64], run: tuple[int, int], center: int, near: int
) -> bool:
    """Whether a stroke goes on past what is left of the character without it, on both sides."""
    pen = round(_PEN * _TALL_PX)
    rows = np.arange(part.shape[0])[:, None]
    rest = np.where(np.abs(rows - ys[None]) <= pen, np.uint8(0), part)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(rest)
    own = np.unique(labels[:, center - near : center + near + 1])
    own = own[(own > 0) & (stats[own, cv2.CC_STAT_HEIGHT] > pen)]
    if not len(own):
        return False
    first = int(stats[own, cv2.CC_STAT_LEFT].min())
    last = int((stats[own, cv2.CC_STAT_LEFT] + stats[own, cv2.CC_STAT_WIDTH]).max()) - 1
    past = _PAST * _TALL_PX
    return run[0] <= first - past and run[1] >= last + past

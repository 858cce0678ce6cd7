"""How tall a symbol's bars are, measured in the photo.

Decoders report where they read, which can be a thin band of the bars. Height matters: a
label's bars are tall by its standard, those of a strip that fits a card's box are not.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad, Symbol
from pairing.photos.barcodes.quads import height_px

_SAMPLES_PER_X = 2
_STEP_X = 1.0
_FARTHEST_X = 120.0
"""Farther than any label's bars are tall: 0.75 in at 13 mils are 58 X."""

_LEAST_LIKENESS = 0.55
"""Correlation with the middle line below which a line no longer crosses the same bars.
Measured on sample_scans, 83 symbols: of the lines inside the bars 95 in 100 reach 0.9 and the
least 0.58; of those outside, print and frames, 99 in 100 stay below 0.45 and the most is 0.48."""

_MISSES = 3
"""This many unlike lines in a row end the bars; one or two may be a scratch."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bars:
    """A symbol's middle line in a photo (start and end in px), and what lies along it."""

    gray: NDArray[np.uint8]
    start: tuple[float, float]
    end: tuple[float, float]
    x_px: float

    def line(self, offset_x: float) -> NDArray[np.float32]:
        """Gray values along the symbol, `offset_x` X below its middle; 0 outside the photo."""
        length = math.dist(self.start, self.end)
        dx, dy = self.end[0] - self.start[0], self.end[1] - self.start[1]
        down = offset_x * self.x_px / length
        part = np.linspace(0.0, 1.0, max(16, round(length / self.x_px * _SAMPLES_PER_X)))
        xs = (self.start[0] + dx * part - dy * down).astype(np.float32)[None]
        ys = (self.start[1] + dy * part + dx * down).astype(np.float32)[None]
        row = cv2.remap(self.gray, xs, ys, cv2.INTER_LINEAR)[0]
        return np.asarray(row, dtype=np.float32)


def height_in_x(gray: NDArray[np.uint8], symbol: Symbol) -> float:
    """How tall a symbol's bars are in X: by its measured corners, else by following its bars;
    0 where X is not known."""
    if symbol.is_measured and symbol.x_px > 0:
        return height_px(symbol.quad) / symbol.x_px
    return bar_height_x(gray, symbol.quad, symbol.x_px)


def bar_height_x(gray: NDArray[np.uint8], quad: Quad, x_px: float) -> float:
    """The height of the bars around `quad`, in X.

    gray: the photo, (height, width) uint8. quad: where the symbol was read, at least one line
    of it. x_px: the narrow bar's width in the photo; 0 gives 0.
    """
    start = _middle(quad.top_left, quad.bottom_left)
    end = _middle(quad.top_right, quad.bottom_right)
    if x_px <= 0 or math.dist(start, end) < 10 * x_px:
        return 0.0
    bars = _Bars(gray=gray, start=start, end=end, x_px=x_px)
    return _reach(bars, -1.0) + _reach(bars, 1.0)


def followed_below_x(
    gray: NDArray[np.uint8], ends: tuple[tuple[float, float], tuple[float, float]], x_px: float
) -> tuple[float, float]:
    """How far below a line across bars, in X, they go on, and how far along the line they have
    leaned there, in X. ends: of the line in the photo, px, along its reading direction; turned
    round, it tells how far they go on above."""
    start, end = ends
    if x_px <= 0 or math.dist(start, end) < 10 * x_px:
        return 0.0, 0.0
    reached, slant = _followed(_Bars(gray=gray, start=start, end=end, x_px=x_px), 1.0)
    return reached, -slant / _SAMPLES_PER_X


def _reach(bars: _Bars, sign: float) -> float:
    """How far in X lines on one side of the middle still cross the same bars."""
    return _followed(bars, sign)[0]


def _followed(bars: _Bars, sign: float) -> tuple[float, int]:
    """That distance, and the shift (samples) at its end."""
    middle = bars.line(0.0)
    reached, missed, at, slant = 0.0, 0, _STEP_X, 0
    while at < _FARTHEST_X and missed < _MISSES:
        line = bars.line(sign * at)
        likeness, shift = max(
            (_likeness(middle, line, shift), shift) for shift in range(slant - 1, slant + 2)
        )
        if likeness >= _LEAST_LIKENESS:
            reached, missed, slant = at, 0, shift
        else:
            missed += 1
        at += _STEP_X
    return reached, slant


def _likeness(one: NDArray[np.float32], other: NDArray[np.float32], shift: int) -> float:
    """Correlation at a shift in samples: perspective slants the bars a little."""
    a = one[max(0, shift) : len(one) + min(0, shift)]
    b = other[max(0, -shift) : len(other) + min(0, -shift)]
    spread = float(a.std() * b.std())
    if spread <= 1.0:
        return 0.0
    return float(((a - a.mean()) * (b - b.mean())).mean()) / spread


def _middle(one: tuple[float, float], other: tuple[float, float]) -> tuple[float, float]:
    return (one[0] + other[0]) / 2, (one[1] + other[1]) / 2

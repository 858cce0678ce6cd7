"""A line that goes on more faintly where it seems to end: a pen that ran dry, or a press too light.

What is too faint to count as ink there is still a character, and the rest would be read as a
shorter number.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.written.frame import Mark, darkness_of
from pairing.photos.written.ink_rows import fitted, middles, tall_of

_BEYOND = (0.05, 1.6)
"""In heights of the line's characters: where the next one would stand, beyond the last."""
_WINDOW = 1.0
"""Of what reaches so far from the line's middle, in the same, nothing is told: a rule, an edge."""
_TALL, _LEAST_WIDE, _MOST_WIDE = (0.5, 1.5), 0.12, 1.3
"""What could be a character, in the same."""
_OFF = 0.4
"""So far from the line's middle its own middle lies at most."""
_LEAST_DROP, _OVER_GRAIN, _OF_LINE = 5.0, 5.0, 0.16
"""By how many gray levels it is darker than paper; how many times more than the paper's grain (a
standard deviation); and what share of how dark the line is."""


def goes_on_faintly(gray: NDArray[np.uint8], row: list[Mark]) -> bool:
    """Whether something that could be a character follows on the line at either end. gray: the
    plane without the form's own ink; row: the line's marks, all that counted as ink."""
    tall = tall_of(row)
    slope, at = fitted(*middles(row))
    drop = darkness_of(gray)
    left, right = min(m[0] for m in row), max(m[0] + m[2] for m in row)
    own = np.concatenate([
        drop[int(y) : int(y + high), int(x) : int(x + wide)].ravel() for x, y, wide, high in row
    ])  # fmt: skip
    strong = float(np.percentile(own, 85))
    for first, last in (
        (left - _BEYOND[1] * tall, left - _BEYOND[0] * tall),
        (right + _BEYOND[0] * tall, right + _BEYOND[1] * tall),
    ):
        middle = at + slope * (first + last) / 2
        x, y = max(0, round(first)), max(0, round(middle - _WINDOW * tall))
        part = drop[y : max(0, round(middle + _WINDOW * tall)), x : max(0, round(last))]
        if min(part.shape, default=0) > 2 and _has_character(part, middle - y, tall, strong):
            return True
    return False


def _has_character(
    part: NDArray[np.float32], middle: float, tall: float, strong: float
) -> bool:  # fmt: skip
    grain = 1.48 * float(np.median(np.abs(part - np.median(part))))
    least = max(_LEAST_DROP, _OVER_GRAIN * grain, _OF_LINE * strong)
    faint = cv2.morphologyEx(
        (part > least).astype(np.uint8), cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8)
    )
    count, _, stats, _ = cv2.connectedComponentsWithStats(np.asarray(faint, np.uint8))
    for left, top, wide, high, _ in stats[1:count].tolist():
        touches = left == 0 or top == 0 or left + wide == part.shape[1] or top + high == len(part)
        is_sized = _TALL[0] * tall < high < _TALL[1] * tall
        is_sized &= _LEAST_WIDE * tall < wide < _MOST_WIDE * tall
        if is_sized and not touches and abs(top + high / 2 - middle) < _OFF * tall:
            return True
    return False

"""Strokes that run through characters: what strikes a number out, whole or in part.

A character's own strokes end where it ends. A path of ink that goes on and on, from one
character into the next and across the paper between them, was drawn over the number.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.written.frame import Mark
from pairing.photos.written.ink_rows import fitted, middles, tall_of
from pairing.photos.written.plane import corners_of, homography, laid_flat, rectangle

_TALL_PX = 30
"""Height of the line's characters where paths are looked for, px."""
_REACHES_PX = (4, 8)
"""Of a stroke the paper on both sides is seen so many px away: for digits of 4 mm 0.5 mm, and
1 mm for a felt pen."""
_FAINT = 0.16
"""Of the number's own ink a stroke has at least this darkness, in pencil or an empty pen."""
_LEAST_DROP = 6.0
_BAND = 0.62
"""What runs farther from the middle of the line, in its height, is a rule or a strip's edge."""
_SLANTS = (-0.6, -0.45, -0.3, -0.15, 0.0, 0.15, 0.3, 0.45, 0.6)
_RUN = 9
"""A straight path rises by at most one px in so many more or less than its slant says."""
_STRAIGHT_HAND, _STRAIGHT_PRINT = 2.8, 3.5
"""A straight path within whole characters is no longer than so many of their heights. Measured on
`tests/benchmarks/designs.py`, all levels: by hand up to 2.7, where digits touch; in print, whose
groups run together in a blurred photo, up to 3.1."""
_WAVY = 4.8
"""Nor is any path: characters that touch by chance are two or three."""
_STEEP = 1.35
"""A steep path is no longer than so many heights: digits are one height tall. Of 170 right lines
by hand of `tests.benchmarks.lost` (seeds 0 to 95) that agreed one had more; a slash through a 4
1.37."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """The longest paths of ink, in heights of the line's characters. straight: along the line,
    more or less straight. wavy: along the line, of any form. steep: across it. place: left, top,
    width, height of the straight one, px of the plane."""

    straight: float
    wavy: float
    steep: float
    place: Mark

    def is_through(self, *, is_print: bool) -> bool:
        """Whether one goes farther than a character's own strokes do."""
        longest = _STRAIGHT_PRINT if is_print else _STRAIGHT_HAND
        return self.straight > longest or self.wavy > _WAVY or self.steep > _STEEP


def longest_stroke(gray: NDArray[np.uint8], ink: NDArray[np.uint8], row: list[Mark]) -> Stroke:
    """The longest path of ink in a line. gray, ink: the plane without the form's own ink."""
    tall = tall_of(row)
    slope, at = fitted(*middles(row))
    left, right = min(m[0] for m in row), max(m[0] + m[2] for m in row)
    step = tall / _TALL_PX
    first = left - tall
    matrix = np.array([[step, 0, first], [slope * step, step, at + slope * first - 1.4 * tall]])
    size = (round((right - left + 2 * tall) / step), round(2.8 * _TALL_PX))
    flags = cv2.INTER_AREA | cv2.WARP_INVERSE_MAP
    soft = cv2.GaussianBlur(gray, (0, 0), max(0.6, 0.35 * step))
    level = cv2.warpAffine(soft, matrix, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)
    inked = cv2.warpAffine(ink, matrix, size, flags=flags) > 110
    along = _passable(np.asarray(level, np.uint8), inked)
    upright = _passable(np.ascontiguousarray(level.T), np.ascontiguousarray(inked.T))
    # A box's side, or the card's edge, is beside the line, not in it.
    beside = round(0.75 * _TALL_PX)
    middle, reach = along.shape[0] // 2, round(_BAND * _TALL_PX)
    band = along[middle - reach : middle + reach + 1]
    straight, (x, y, wide, high) = _straightest(band)
    corner = matrix @ np.array([x, y + middle - reach, 1.0])
    return Stroke(
        straight=straight / _TALL_PX,
        wavy=_longest(band[None])[0] / _TALL_PX,
        steep=_longest(upright[None, beside:-beside])[0] / _TALL_PX,
        place=(float(corner[0]), float(corner[1]), wide * step, high * step),
    )


def _straightest(band: NDArray[np.bool_]) -> tuple[float, Mark]:
    """The longest path whose slope differs from one of `_SLANTS` by a third at most, px."""
    high, wide = band.shape
    thick = cv2.dilate(band.astype(np.uint8), np.ones((2, 1), np.uint8))
    whole = wide // _RUN * _RUN
    sheared = []
    for slant in _SLANTS:
        offset = slant * wide / 2
        matrix = np.array([[1, 0, 0], [slant, 1, -offset]], np.float64)
        moved = cv2.warpAffine(
            thick, matrix, (wide, high), flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP
        )
        # A strongly slanted path leaves the band's middle: it is looked for in pieces.
        sheared.append(moved[:, :whole].reshape(high, -1, _RUN).min(2))
    found, (x, y, many, tall) = _longest(np.stack(sheared) > 0)
    return found * _RUN, (x * _RUN, y, many * _RUN, tall)


def _passable(gray: NDArray[np.uint8], inked: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Where a path may run: ink, and what is darker than the paper on both sides of it."""
    side = max(9, gray.shape[0] // 2) | 1
    paper = cv2.medianBlur(cv2.morphologyEx(gray, cv2.MORPH_CLOSE, np.ones((side, side))), 3)
    drop = np.asarray(paper, np.float32) - gray
    strong = float(np.median(drop[inked])) if inked.any() else 0.0
    least = max(_LEAST_DROP, _FAINT * strong)
    found = inked.copy()
    for reach in _REACHES_PX:
        above, below = drop.copy(), drop.copy()
        above[reach:] = drop[:-reach]
        below[:-reach] = drop[reach:]
        found |= np.minimum(drop - above, drop - below) > least
    # A hair's breadth without ink does not end a stroke.
    joined = cv2.morphologyEx(found.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((1, 3), np.uint8))
    return np.asarray(joined, np.uint8) > 0


def _longest(passable: NDArray[np.bool_]) -> tuple[float, Mark]:
    """The longest path to the right that rises or falls by at most a px a px, in px, and its
    place. passable: (several, height, width)."""
    many, high, wide = passable.shape
    length = np.zeros((many, high + 2), np.int32)
    best, at_x, at_y = 0, 0, 0
    for x in range(wide):
        longest = np.maximum(np.maximum(length[:, :-2], length[:, 2:]), length[:, 1:-1])
        length[:, 1:-1] = (longest + 1) * passable[:, :, x]
        most = int(length.max())
        if most > best:
            best, at_x = most, x
            at_y = int(length.max(0).argmax()) - 1
    top = max(0, at_y - _TALL_PX // 2)
    return float(best), (float(at_x - best + 1), float(top), float(best), float(_TALL_PX))


_BARS_WIDE_PX = 1280
"""A Code 128 symbol of 22 digits has about 4.5 px a module then."""
_SPACE = 0.65
"""Of the range from bar to space a column is at least so light, as its neighbors are."""
_OVER_SPACE = 0.3
"""Of that range a stroke is darker than the space above and below it."""
_REACH_MM = 1.1
_LONG_OVER_BARS = 0.22
"""A stroke goes on through so much of the bars' length; a scratch or a fold does not."""


def is_struck_over(photo: NDArray[np.uint8], bars: Quad, long_mm: float) -> bool:
    """Whether a stroke runs over a strip's bars: it shows in the spaces between them. bars: their
    corners in the photo; long_mm: about their length."""
    corners = corners_of(bars)
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    high = round(_BARS_WIDE_PX * float(sides[1] + sides[3]) / max(1.0, float(sides[0] + sides[2])))
    if high < 24:
        return False
    # The bars' own ends are ragged; a stroke through them goes on between.
    full = rectangle(0.0, -0.06 * high, float(_BARS_WIDE_PX), 1.12 * high)
    plane = laid_flat(photo, homography(full, corners), (_BARS_WIDE_PX, high))
    gray = cv2.GaussianBlur(plane.gray, (0, 0), 1.2).astype(np.float32)
    column = np.median(gray, axis=0)
    dark, light = np.percentile(column, (5, 95))
    if light - dark < 20:
        return False
    is_space = column > dark + _SPACE * (light - dark)
    is_space &= np.roll(is_space, 1) & np.roll(is_space, -1)
    reach = max(3, round(_REACH_MM * _BARS_WIDE_PX / long_mm))
    padded = np.pad(gray, ((reach, reach), (0, 0)), mode="edge")
    around = np.minimum(padded[: -2 * reach], padded[2 * reach :])
    found = (around - gray > _OVER_SPACE * (light - dark)) & is_space
    spaces = np.flatnonzero(is_space)
    if len(spaces) < 40:
        return False
    # A bar hides what runs over it: the nearest spaces beside it say whether it goes on.
    left = spaces[np.clip(np.searchsorted(spaces, np.arange(_BARS_WIDE_PX), "right") - 1, 0, None)]
    right = spaces[np.clip(np.searchsorted(spaces, np.arange(_BARS_WIDE_PX)), 0, len(spaces) - 1)]
    thick = cv2.dilate(found.astype(np.uint8), np.ones((7, 1), np.uint8)) > 0
    passable = np.where(is_space, thick, thick[:, left] & thick[:, right])
    longest, _ = _longest(passable[None])
    return longest > _LONG_OVER_BARS * _BARS_WIDE_PX

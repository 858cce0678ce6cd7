"""Paper that is bent along a barcode's reading direction, laid flat by the foot of its bars.

Around a tube or on a wavy envelope the bars stay parallel, but what is printed in a row under them
lies on a curve, as their feet do. The feet are followed tile by tile, and each column of the
photo is moved along the bars until they stand on one line.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.barcodes.edge_lines import fitted_curve, run_end
from pairing.photos.written.plane import corners_of, homography, mapped, quad_of, rectangle

Floats = NDArray[np.float64]

_COLUMNS = 448  # of the bars' picture: about three a module
_TILES = 16
_BEYOND = 0.16  # lengths that feet are followed up and down from where the corners have them
_ALIKE, _SHIFT = 0.7, 3
"""Correlation with the bars' middle rows from which a row shows the same bars (`bar_edges`), at the
best of so many columns to either side."""
_GAP_ROWS = 3  # 0.35 mm: print follows closely
_OFF = 0.008
"""How far in lengths a foot may lie from the curve of all: a module and a quarter."""
_LEAST_BEND = 0.012
"""In lengths of the bars, 0.6 mm: less than a fifth of the height of the characters, which a
straight line through them bridges."""
_SIDES, _ABOVE, _UNDER = 0.45, 0.06, 0.24
"""How much around the bars' feet is laid flat, in lengths of the bars."""
_CONTINUED = 0.15  # lengths beyond the bars to which their curve is trusted


@dataclass(frozen=True, slots=True, kw_only=True)
class Unbent:
    """A piece of a photo in which the bars' feet stand on one line. gray: (h, w) uint8. bars: their
    place in it. to_photo: takes its points (n, 2) to the photo's, px."""

    gray: NDArray[np.uint8]
    bars: Quad
    to_photo: Callable[[Floats], Floats]


def unbent(photo: NDArray[np.uint8], bars: Quad) -> Unbent | None:
    """The paper around the feet of bars that are bent; None where they are straight or cannot be
    followed. photo: gray (h, w) uint8. bars: their measured corners."""
    a, b, c, d = corners_of(bars)
    length = (math.dist(a, b) + math.dist(d, c)) / 2
    high = (math.dist(a, d) + math.dist(b, c)) / 2
    if length < _TILES or high < 4:
        return None
    tall = high / length
    flat = homography(rectangle(0.0, 0.0, 1.0, tall), corners_of(bars))
    curve = _foot_curve(photo, flat, tall)
    if curve is None:
        return None
    wide = round(length)
    size = (round((1 + 2 * _SIDES) * wide), round((_ABOVE + _UNDER) * wide))

    def to_photo(points: Floats) -> Floats:
        u = points[:, 0] / wide - _SIDES
        v = points[:, 1] / wide - _ABOVE + tall
        bend = np.polyval(curve, np.clip(u, -_CONTINUED, 1 + _CONTINUED))
        return mapped(flat, np.column_stack([u, v + bend]))

    xs, ys = np.meshgrid(np.arange(size[0]) + 0.5, np.arange(size[1]) + 0.5)
    places = to_photo(np.column_stack([xs.ravel(), ys.ravel()])) - 0.5
    where = places.astype(np.float32).reshape(size[1], size[0], 2)
    across, down = np.ascontiguousarray(where[..., 0]), np.ascontiguousarray(where[..., 1])
    gray = cv2.remap(photo, across, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    inside = rectangle(_SIDES * wide, (_ABOVE - tall) * wide, float(wide), tall * wide)
    return Unbent(gray=np.asarray(gray, np.uint8), bars=quad_of(inside), to_photo=to_photo)


def _foot_curve(photo: NDArray[np.uint8], flat: Floats, tall: float) -> Floats | None:
    """How far below the straight line the bars' feet are along them, as a polynomial of the share
    of their length, in lengths; None where that is next to nothing or not to be told."""
    last = tall + _BEYOND
    rows = round(last * _COLUMNS)
    scale = np.diag([1 / _COLUMNS, 1 / _COLUMNS, 1.0])
    seen = cv2.warpPerspective(
        photo, flat @ scale, (_COLUMNS, rows),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE,
    ).astype(np.float32)  # fmt: skip
    feet = _feet(seen, round(0.5 * tall * _COLUMNS), round(0.1 * tall * _COLUMNS))
    at = (np.arange(_TILES) + 0.5) / _TILES
    below = (feet + 0.5) / _COLUMNS - tall
    # A digit that touches a bar is no foot: it lies far below those beside it.
    beside = np.lib.stride_tricks.sliding_window_view(np.pad(below, 2, "reflect"), 5)
    kept = (np.abs(below - np.median(beside, axis=1)) <= 2 * _OFF) & (feet < rows - 1)
    curve = fitted_curve(at[kept], below[kept], _OFF)
    if curve is None:
        return None
    bend = np.polyval(curve, np.linspace(0, 1, 33))
    straight = np.linspace(bend[0], bend[-1], 33)
    return None if np.abs(bend - straight).max() < _LEAST_BEND else curve


def _feet(seen: NDArray[np.float32], middle: int, around: int) -> NDArray[np.int64]:
    """The last row of each tile that shows the bars of its middle rows."""
    tiles = seen.reshape(len(seen), _TILES, -1)
    tiles = tiles - tiles.mean(axis=2, keepdims=True)
    pattern = tiles[middle - around : middle + around + 1].mean(axis=0)
    power = np.sqrt((tiles * tiles).sum(axis=2)) + 1e-3
    size = np.sqrt((pattern * pattern).sum(axis=1)) + 1e-3
    likeness = np.full(power.shape, -1.0)
    for shift in range(-_SHIFT, _SHIFT + 1):
        moved = np.roll(pattern, shift, axis=1)
        likeness = np.maximum(likeness, (tiles * moved).sum(axis=2) / (power * size))
    alike = (likeness > _ALIKE) & (power > 0.25 * size)
    return middle + run_end(alike[middle:], _GAP_ROWS)

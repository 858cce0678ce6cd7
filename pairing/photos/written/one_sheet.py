"""Whether a place in a photo lies on the same sheet of paper as a card's own bars.

From the bars on, paper goes on as light as it was or gets darker by and by, as light falls off;
where a sheet ends its lightness changes within a fraction of a millimeter. A sheet on another one
that is just as light is not told from it.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.written.plane import corners_of, homography, laid_flat, mapped, rectangle

Floats = NDArray[np.float64]

_PX_PER_MM = 5.0
_BARS_MM = 52.0
"""`photos.written.plane.PX_PER_MM`'s."""
_MARGIN_MM, _FARTHEST_MM = 6.0, 150.0
_CLOSED_MM = 2.0
"""Wider than a bar, a rule or a printed stroke: what is left is paper."""
_APART_MM = 0.8
_STEP = 0.02
"""By what share paper gets lighter or darker within `_APART_MM` where a sheet ends. Measured on
cards drawn by `tests.benchmarks.lost` (seeds 2000 to 2031) in shade and falling light: at 0.02 nine
in ten places around a strip are reached and more, on one card four in five; at 0.015 half."""
_QUIET_MM = (1.5, 3.5)
"""Beside a card's bars, on both sides, its paper is bare."""


def share_on_sheet(photo: NDArray[np.uint8], bars: Quad, places: Floats) -> float:
    """Which share of places (n, 2) in the photo, px, is reached from a card's own bars without
    leaving its paper. photo: gray (h, w) uint8."""
    if not len(places):
        return 0.0
    corners = corners_of(bars)
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    high_mm = _BARS_MM * float(sides[1] + sides[3]) / max(1.0, float(sides[0] + sides[2]))
    to_photo = homography(rectangle(0.0, 0.0, _BARS_MM, high_mm), corners)
    at_mm = mapped(np.asarray(np.linalg.inv(to_photo), np.float64), places)
    low = np.minimum(at_mm.min(axis=0), 0.0) - _MARGIN_MM
    high = np.maximum(at_mm.max(axis=0), (_BARS_MM, high_mm)) + _MARGIN_MM
    if (high - low).max() > _FARTHEST_MM + _BARS_MM:
        return 0.0
    from_px = np.array([[1 / _PX_PER_MM, 0, low[0]], [0, 1 / _PX_PER_MM, low[1]], [0, 0, 1.0]])
    size = (round((high[0] - low[0]) * _PX_PER_MM), round((high[1] - low[1]) * _PX_PER_MM))
    bare = _bare(laid_flat(photo, to_photo @ from_px, size).gray)
    sheets = np.asarray(cv2.connectedComponents(bare)[1], np.int32)
    beside = [
        (x, y)
        for off in np.linspace(*_QUIET_MM, 5)
        for x in (-off, _BARS_MM + off)
        for y in np.linspace(0.1, 0.9, 5) * high_mm
    ]
    own = _labels(sheets, (np.array(beside) - low) * _PX_PER_MM)
    counts = np.bincount(own[own > 0], minlength=2)
    if counts.max() < len(own) / 2:
        return 0.0
    there = _labels(sheets, (at_mm - low) * _PX_PER_MM)
    return float((there == counts.argmax()).mean())


def _bare(gray: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """255 where paper goes on as it is."""
    soft = cv2.GaussianBlur(gray, (0, 0), 0.2 * _PX_PER_MM)
    side = round(_CLOSED_MM * _PX_PER_MM) | 1
    paper = cv2.morphologyEx(soft, cv2.MORPH_CLOSE, np.ones((side, side), np.uint8))
    light = np.log(np.maximum(cv2.GaussianBlur(paper, (0, 0), 1.0).astype(np.float32), 1.0))
    off = round(_APART_MM * _PX_PER_MM / 2)
    padded = np.pad(light, off, mode="edge")
    across = np.abs(padded[off:-off, 2 * off :] - padded[off:-off, : -2 * off])
    down = np.abs(padded[2 * off :, off:-off] - padded[: -2 * off, off:-off])
    return np.where(np.hypot(across, down) < _STEP, np.uint8(255), np.uint8(0))


def _labels(sheets: NDArray[np.int32], at: Floats) -> NDArray[np.int64]:
    x = np.clip(np.round(at[:, 0]), 0, sheets.shape[1] - 1).astype(int)
    y = np.clip(np.round(at[:, 1]), 0, sheets.shape[0] - 1).astype(int)
    return np.asarray(sheets[y, x], np.int64)

"""A strip with bars in a card's box: what was written over it, or beside it, speaks against it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pairing.judge.box import Unread
from pairing.model import Quad, Reading, Side
from pairing.photos.files import Frame
from pairing.photos.written import seen
from pairing.photos.written.box import BoxReading
from pairing.photos.written.ink_rows import tall_of
from pairing.photos.written.plane import (
    PX_PER_MM,
    corners_of,
    homography,
    laid_flat,
    rectangle,
)
from pairing.photos.written.region import Region, content_of
from pairing.photos.written.strokes import is_struck_over, longest_stroke
from pairing.pieces.placed import Looked, Placed, source_of

_QUIET_MM, _OVER_MM, _UNDER_MM = 2.0, 1.2, 4.6
"""A strip around its bars: at the sides, above, and below with its print. Common practice, no
source."""
_STRIP_PRINT = 5.0
"""A straight path of ink in the small print under bars, which runs together where a photo is
blurred, is no longer than so many heights of its characters. Measured on cards of
`tests/benchmarks/designs.py`, level hard: up to 3.3; struck out 8.7 and more."""
_BARS_MM = 48.0
"""A strip's bars are about so long: 20 or 22 digits at 0.3 mm. Common practice, no source."""
_BESIDE_MM, _ABOVE_MM = 22.0, 2.0
"""On a card of no known form, how far from a strip something is looked for that was written
beside it."""
_WRITTEN_MM = 2.4
"""Lower rows beside a strip are the form's captions."""


def why_not_strip(
    photo: NDArray[np.uint8], strip: Placed, region: Region | None = None
) -> Unread | None:
    """Why a strip whose bars were read may not count; None for no reason. region: the box that
    it is in; without it, on a card of no known form, the paper around the strip is looked at."""
    bars = strip.standing.symbol.quad
    is_known = region is not None
    if region is None:
        region = _around(photo, bars)
    corners, long_mm = _strip_corners(region, bars)
    content = content_of(region, strip=corners)
    if content.is_covered:
        return Unread.CUT
    rows = [row for row in content.rows if is_known or tall_of(row) > _WRITTEN_MM * PX_PER_MM]
    if rows or (is_known and content.left_over):
        return Unread.OTHER_WRITING
    if is_struck_over(photo, bars, long_mm) or _is_print_struck(region, bars):
        return Unread.STRUCK
    return None


def refused_strip(
    frame: Frame, placed: Sequence[Placed], box: Quad, reason: Unread, *, is_by_shape: bool
) -> Looked:
    """A strip that does not count: its bars are no reading of the box."""
    nothing = BoxReading(line=None, reason=reason, lines=(), used=())
    what = seen(nothing, source=source_of(frame), box=box, is_by_shape=is_by_shape, has_bars=True)
    return Looked(readings=tuple(_unplaced(one) for one in placed), seen=what)


def _unplaced(one: Placed) -> Reading:
    is_strip = one.reading.side is Side.BOX
    return replace(one.reading, side=Side.UNPLACED) if is_strip else one.reading


def _around(photo: NDArray[np.uint8], bars: Quad) -> Region:
    """The paper around a strip as a region; nothing is known to be printed there."""
    corners = corners_of(bars)
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    high_mm = _BARS_MM * float(sides[1] + sides[3]) / max(1.0, float(sides[0] + sides[2]))
    left, top = _QUIET_MM + _BESIDE_MM, _OVER_MM + _ABOVE_MM
    wide_mm, tall_mm = _BARS_MM + 2 * left, high_mm + top + _UNDER_MM + _ABOVE_MM
    flat = rectangle(left, top, _BARS_MM, high_mm) * PX_PER_MM
    size = (round(wide_mm * PX_PER_MM), round(tall_mm * PX_PER_MM))
    plane = laid_flat(photo, homography(flat, corners), size)
    box = rectangle(0.0, 0.0, float(size[0]), float(size[1]))
    return Region(plane=plane, box=box, printed=np.zeros(plane.grey.shape, np.uint8))


def _is_print_struck(region: Region, bars: Quad) -> bool:
    """Whether a stroke runs through what is printed under a strip's bars."""
    corners, _ = _strip_corners(region, bars)
    flat = region.plane.place(corners_of(bars))
    corners[:2] = flat[[3, 2]] + (corners[:2] - flat[:2]) * (1.0, -0.1)
    content = content_of(replace(region, box=corners))
    strokes = [longest_stroke(content.clean, content.ink, row) for row in content.rows]
    return any(one.straight > _STRIP_PRINT for one in strokes)


def _strip_corners(region: Region, bars: Quad) -> tuple[NDArray[np.float64], float]:
    """The strip in the region's plane, px, and the length of its bars, mm."""
    flat = region.plane.place(corners_of(bars)) / PX_PER_MM
    along = (flat[1] - flat[0]) / max(1e-6, float(np.linalg.norm(flat[1] - flat[0])))
    down = (flat[3] - flat[0]) / max(1e-6, float(np.linalg.norm(flat[3] - flat[0])))
    moves = (
        (-_QUIET_MM, -_OVER_MM), (_QUIET_MM, -_OVER_MM), (_QUIET_MM, _UNDER_MM),
        (-_QUIET_MM, _UNDER_MM),
    )  # fmt: skip
    corners = [at + x * along + y * down for at, (x, y) in zip(flat, moves, strict=True)]
    return np.stack(corners) * PX_PER_MM, float(np.linalg.norm(flat[1] - flat[0]))

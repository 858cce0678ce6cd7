"""Bars in the box that nobody could read: they may say another number than what else is there."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.findings import Code, Finding
from pairing.model import Quad
from pairing.photos.barcodes.quads import height_px, length_px
from pairing.photos.written.plane import corners_of, homography, laid_flat, rectangle

_WIDE_PX, _HIGH_PX = 480, 60
_BANDS = (slice(8, 24), slice(36, 52))
"""Of the height, two bands that bars cross alike and writing does not."""
_SMOOTH_PX = 61
_MOST_SHIFT_PX = 24
"""A quad that leans against its bars by so much still shows them."""
_LEAST_LIKENESS = 0.7
"""Correlation of the two bands. Measured on lines that are drawn by `tests/benchmarks/lost.py`:
print up to 0.58; bars 0.9 and more."""
_DARK = 6.0
"""By how many gray levels a bar is darker than what is around it."""
_LEAST_SHARED = 0.65
"""Of all that is dark in either band so much is dark in both: a form's rules alone make bands alike
that have words in them. Measured on lines drawn by `tests/benchmarks/lost.py` (words and writing
between rules 0.32 to 0.57) and bars drawn by `tests/benchmarks/altered.py` (0.80 and more)."""
_LEAST_HIGH = 1 / 40
"""Of its length, the least height of a place that may hold bars: 1.2 mm where a number's bars are
48 mm long, lower than any scanner is aimed at. A stretch so low through printed digits shows the
same in its upper and its lower half (seen on `sample_scans/0001-card.jpg`)."""

_BESIDE, _LEAST_BESIDE = 1.2, 0.5
"""In heights of a line, the paper between it and its strip's bars; and of the shorter one's length,
what is beside the other. Common practice, no source: print stands close under its bars."""


def unread_bars(photo: NDArray[np.uint8], places: Sequence[Quad]) -> tuple[Finding, ...]:
    """A finding where one of these places in the box holds bars, of whatever symbology. photo:
    gray (h, w) uint8."""
    if not any(_are_bars(photo, quad) for quad in places):
        return ()
    return (Finding.of(Code.BOX_BARS_UNREAD),)


def is_beside_line(line: Quad, place: Quad) -> bool:
    """Whether a place lies right above or below a printed or written line, or on it, so that bars
    there are most likely of the same strip, whatever they say. Both in one photo, px."""
    ends, corners = corners_of(line).astype(np.float64), corners_of(place).astype(np.float64)
    along = ends[1] - ends[0] + ends[2] - ends[3]
    along /= max(1e-9, float(np.linalg.norm(along)))
    off = corners.mean(0) - ends.mean(0)
    down = abs(float(off @ np.array([-along[1], along[0]])))
    most = 0.5 * (height_px(line) + height_px(place)) + _BESIDE * height_px(line)
    first, last = (np.array(q) @ along for q in (ends, corners))
    shared = min(first.max(), last.max()) - max(first.min(), last.min())
    return bool(down < most and shared > _LEAST_BESIDE * min(np.ptp(first), np.ptp(last)))


def _are_bars(photo: NDArray[np.uint8], quad: Quad) -> bool:
    """Whether what changes along a place changes alike in its upper and its lower half."""
    if height_px(quad) < _LEAST_HIGH * length_px(quad):
        return False
    flat = rectangle(0.0, 0.0, float(_WIDE_PX), float(_HIGH_PX))
    plane = laid_flat(photo, homography(flat, corners_of(quad)), (_WIDE_PX, _HIGH_PX))
    upper, lower = (plane.gray[band].mean(axis=0).astype(np.float32) for band in _BANDS)
    upper, lower = (line - cv2.blur(line[None], (_SMOOTH_PX, 1))[0] for line in (upper, lower))
    middle = upper[_MOST_SHIFT_PX:-_MOST_SHIFT_PX]
    found = cv2.matchTemplate(lower[None], middle[None], cv2.TM_CCOEFF_NORMED)[0]
    if found.max() <= _LEAST_LIKENESS:
        return False
    shift = int(found.argmax())
    dark = middle < -_DARK, lower[shift : shift + len(middle)] < -_DARK
    either = int((dark[0] | dark[1]).sum())
    return int((dark[0] & dark[1]).sum()) > _LEAST_SHARED * max(1, either)

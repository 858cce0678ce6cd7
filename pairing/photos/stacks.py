"""Two symbols with the same number, one above the other, that an engine took for one.

zxing-cpp joins scan lines of equal text when they lie within about half a symbol's
length of each other (measured with 3.1.1), and so makes one symbol of a label and
the strip below it. Here the joined quad is looked through along the bars and cut
where the bars are interrupted.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from pairing.model import Quad
from pairing.photos import code128
from pairing.photos.engines import CODE_128, Detection, Gray
from pairing.photos.places import Floats, corners_of, height_px, length_px, quad_of

_COLUMNS_PER_MODULE = 2
_GAP_MODULES = 8.0
"""Least interruption that parts two symbols. One symbol's own interruptions (a dead
printer dot in a ladder print, a crease) are thinner; two labels are further apart."""

_PART_MODULES = 4.0
"""Least height of a part; measured: zxing-cpp reads down to about 8 X, we down to 2 X."""

_BARS_CORRELATION = 0.5
"""Correlation with the typical row above which a row shows the symbol's bars."""


def unstacked(gray: Gray, detection: Detection) -> tuple[Detection, ...]:
    """The detection, or one for each of the symbols that it joins."""
    if detection.kind != CODE_128 or len(detection.points) != 4:
        return (detection,)
    quad = quad_of(detection.points)
    modules = code128.shortest_modules(detection.text, aim=detection.aim)
    x_px = length_px(quad) / modules
    if height_px(quad) < x_px * (_GAP_MODULES + 2 * _PART_MODULES):
        return (detection,)
    rows = max(8, round(height_px(quad) / x_px * _COLUMNS_PER_MODULE))
    runs = _bar_runs(_flattened(gray, quad, modules * _COLUMNS_PER_MODULE, min(rows, 2000)))
    per_module = min(rows, 2000) / (height_px(quad) / x_px)
    parts = _joined(runs, _GAP_MODULES * per_module)
    parts = [p for p in parts if p[1] - p[0] >= _PART_MODULES * per_module]
    if len(parts) < 2:
        return (detection,)
    total = min(rows, 2000)
    return tuple(
        replace(detection, points=_slice(quad, first / total, last / total).corners)
        for first, last in parts
    )


def _flattened(gray: Gray, quad: Quad, columns: int, rows: int) -> Floats:
    target = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], dtype=np.float32)
    matrix = cv2.getPerspectiveTransform(corners_of(quad).astype(np.float32), target)
    flat = cv2.warpPerspective(gray, matrix, (columns, rows), flags=cv2.INTER_LINEAR)
    return flat.astype(np.float64)


def _bar_runs(flat: Floats) -> list[tuple[int, int]]:
    """Runs of rows (first, one past the last) that show the symbol's bars.

    The typical row is the mean over all; rows of a second symbol that is shifted
    sideways a little still resemble it, rows of text or bare paper do not.
    """
    centred = flat - flat.mean(axis=1, keepdims=True)
    spread = np.sqrt((centred**2).mean(axis=1))
    typical = centred[spread >= np.median(spread) * 0.5].mean(axis=0)
    norm = float(np.sqrt((typical**2).mean()))
    if norm < 1e-6:
        return [(0, len(flat))]
    best = np.zeros(len(flat))
    for shift in range(-4, 5):
        moved = np.roll(typical, shift)
        match = (centred * moved).mean(axis=1) / (np.maximum(spread, 1e-6) * norm)
        best = np.maximum(best, match)
    shows = (best > _BARS_CORRELATION) & (spread > 0.3 * np.percentile(spread, 90))
    edges = np.flatnonzero(np.diff(np.concatenate(([0], shows.astype(np.int8), [0]))))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _joined(runs: list[tuple[int, int]], gap: float) -> list[tuple[int, int]]:
    joined: list[tuple[int, int]] = []
    for first, last in runs:
        if joined and first - joined[-1][1] < gap:
            joined[-1] = (joined[-1][0], last)
        else:
            joined.append((first, last))
    return joined


def _slice(quad: Quad, first: float, last: float) -> Quad:
    a, b, c, d = corners_of(quad)
    points = (a + (d - a) * first, b + (c - b) * first, b + (c - b) * last, a + (d - a) * last)
    return quad_of([(float(x), float(y)) for x, y in points])

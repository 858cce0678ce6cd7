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
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.barcodes.engines import CODE_128, Detection, Gray
from pairing.photos.barcodes.extent import followed_below_x
from pairing.photos.barcodes.quads import Floats, corners_of, grown, height_px, length_px, quad_of
from pairing.photos.code128 import encoding

_COLUMNS_PER_MODULE = 2
_GAP_MODULES = 8.0
"""Least interruption that parts two symbols. One symbol's own interruptions (a dead
printer dot in a ladder print, a crease) are thinner; two labels are further apart."""

_PART_MODULES = 4.0
"""Least height of a part; measured: zxing-cpp reads down to about 8 X, we down to 2 X."""

_INSIDE_MODULES = 2.0
"""From the end of a quad to rows that are surely across its bars."""

_MOST_ROWS = 2000
_LONGER = 0.12  # share of a symbol's length by which a block found in a reduced photo is longer
_FRAYED = 0.15  # share of its height by which it reaches beyond its bars on either side
_TILES = 8  # along a symbol
_MOSTLY_ALIKE = 0.7  # share of a block's rows
_IN_LINE_MODULES = 6.0  # zbar places the ends of a symbol no better
_LEAN_ERROR = 0.05  # columns a row by which the bars' measured lean may be out
_FADE_MODULES = 1.5  # blur at a printed bar's end
_SAME_PAPER = 0.12  # of the contrast
_FULL_BARS = 0.8  # contrast of the bars up to their ends, of their usual contrast

_BARS_CORRELATION = 0.5
"""Correlation with the typical row above which a row shows the symbol's bars."""


def unstacked(gray: Gray, detection: Detection) -> tuple[Detection, ...]:
    """The detection, or one for each of the symbols that it joins."""
    if detection.kind != CODE_128 or len(detection.points) != 4:
        return (detection,)
    quad = quad_of(detection.points)
    modules = encoding.shortest_modules(detection.text, aim=detection.aim)
    x_px = length_px(quad) / modules
    if height_px(quad) < x_px * (_GAP_MODULES + 2 * _PART_MODULES):
        return (detection,)
    parts = _parts(gray, quad, modules)
    if len(parts) < 2:
        ends = _by_their_ends(gray, quad, modules)
        return tuple(replace(detection, points=one.corners) for one in ends) or (detection,)
    return tuple(
        replace(detection, points=_slice(quad, first, last).corners) for first, last in parts
    )


def _by_their_ends(gray: Gray, quad: Quad, modules: int) -> tuple[Quad, ...]:
    """The two symbols that a quad joins whose corners are not in line, as those of one symbol are:
    of different length, or one beside the other, so that no row is typical of both. The bars are
    followed from the quad's upper and its lower end; () where they meet, or lead to its corners."""
    a, b, c, d = corners_of(quad)
    along = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    down = np.array([-along[1], along[0]])
    x_px = length_px(quad) / modules
    moved = np.array([(d - a) @ along, (c - b) @ along]) / x_px
    if float(np.abs(moved).max()) <= _IN_LINE_MODULES:
        return ()
    inside = down * _INSIDE_MODULES * x_px
    above, lean = _followed(gray, a + inside, b + inside, modules)
    below, _ = _followed(gray, c - inside, d - inside, modules)
    high = _INSIDE_MODULES * x_px + above, _INSIDE_MODULES * x_px + below
    if min(high) < _PART_MODULES * x_px or height_px(quad) - sum(high) < _GAP_MODULES * x_px:
        return ()
    led = lean / max(above, x_px) * height_px(quad) / x_px
    if float(np.abs(moved - led).max()) <= _IN_LINE_MODULES:
        return ()
    upper, lower = down * high[0], down * high[1]
    corners = ((a, b, b + upper, a + upper), (d - lower, c - lower, c, d))
    return tuple(quad_of([(float(x), float(y)) for x, y in one]) for one in corners)


def _followed(gray: Gray, start: Floats, end: Floats, modules: int) -> tuple[float, float]:
    """How far below this line its bars go on, and how far along it they lean there; px."""
    ends = (float(start[0]), float(start[1])), (float(end[0]), float(end[1]))
    x_px = float(np.hypot(*(end - start))) / modules
    below_x, lean_x = followed_below_x(gray, ends, x_px)
    return below_x * x_px, lean_x * x_px


def are_two(gray: Gray, first: Quad, second: Quad, modules: int) -> bool:
    """Whether two places of the same text are two printed symbols and not one, interrupted.

    A label and a strip are never laid out in line to a fraction of a millimeter; what
    lies in line is looked at more closely.
    """
    x_px = length_px(first) / modules
    a = corners_of(first)
    along = (a[1] - a[0]) / max(float(np.hypot(*(a[1] - a[0]))), 1e-9)
    across = np.array([-along[1], along[0]])
    b = corners_of(second) - a[0]
    u, v = b @ along, b @ across
    ends = np.array([u[0], u[1] - length_px(first), u[2] - length_px(first), u[3]])
    lean = float((a[3] - a[0]) @ along) / max(float((a[3] - a[0]) @ across), 1e-9)
    off = np.abs(ends - lean * v) - _LEAN_ERROR * np.abs(v)
    if float(off.max()) > _IN_LINE_MODULES * x_px:
        return True
    upper, lower = (first, second) if v.mean() > 0 else (second, first)
    joined = quad_of([upper.top_left, upper.top_right, lower.bottom_right, lower.bottom_left])
    return len(_parts(gray, joined, modules)) > 1


def is_part_of(gray: Gray, block: Quad, symbol: Quad, modules: int) -> bool:
    """Whether a block of bars is more of a symbol that was read, above or below its quad.

    zxing-cpp's quad of a tilted symbol is a level slice of it. The bars beyond have the slice's
    pattern, follow on it without a gap, and end where it ends.
    """
    columns = modules * _COLUMNS_PER_MODULE
    rows = max(4, round(height_px(symbol) / length_px(symbol) * columns))
    target = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], dtype=np.float32)
    matrix = cv2.getPerspectiveTransform(corners_of(symbol).astype(np.float32), target)
    inner = grown(block, along_px=0, across_px=-_FRAYED * height_px(block))
    places = cv2.perspectiveTransform(corners_of(inner).astype(np.float32)[None], matrix)[0]
    if places[:, 0].min() < -_LONGER * columns or places[:, 0].max() > (1 + _LONGER) * columns:
        return False
    above = max(0, round(-float(places[:, 1].min())))
    total = above + max(rows, round(float(places[:, 1].max())))
    if total > _MOST_ROWS:
        return False
    down = np.array([[1, 0, 0], [0, 1, above], [0, 0, 1.0]])
    flat = cv2.warpPerspective(gray, down @ matrix, (columns, total)).astype(np.float64)
    mask = np.zeros((total, columns), np.uint8)
    corners = np.concatenate([places, target]) + np.array([0, above], np.float32)
    cv2.fillConvexPoly(mask, np.round(cv2.convexHull(corners)).astype(np.int32), 1)
    alike = _rows_alike(flat, mask.astype(np.float64), flat[above : above + rows].mean(axis=0))
    alike[above : above + rows] = True
    shown = np.flatnonzero(mask.sum(axis=1) >= columns / 6)
    gaps = np.diff(np.flatnonzero(alike))
    beyond = shown[(shown < above) | (shown >= above + rows)]
    return bool(
        len(beyond)
        and alike[beyond].mean() > _MOSTLY_ALIKE
        and gaps.max() < _GAP_MODULES / 2 * _COLUMNS_PER_MODULE
    )


def _rows_alike(flat: Floats, mask: Floats, pattern: Floats) -> NDArray[np.bool_]:
    """Whether each row shows the pattern all along where the mask lets it, shifted or not.

    Neighbors on a pad differ in two or three characters: tiles tell what a whole row hides.
    """
    width = flat.shape[1] // _TILES
    tiles = (len(flat), _TILES, width)
    mask = mask[:, : _TILES * width].reshape(tiles)
    size = mask.sum(axis=2, keepdims=True)
    flat = flat[:, : _TILES * width].reshape(tiles)
    seen = mask * (flat - (mask * flat).sum(axis=2, keepdims=True) / (size + 1e-9))
    power = (seen * seen).sum(axis=2)
    best = np.zeros(tiles[:2])
    for shift in range(-3, 4):
        wanted = mask * np.roll(pattern, shift)[: _TILES * width].reshape(tiles[1:])
        wanted = mask * (wanted - wanted.sum(axis=2, keepdims=True) / (size + 1e-9))
        norm = np.sqrt(power * (wanted * wanted).sum(axis=2)) + 1e-9
        best = np.maximum(best, (seen * wanted).sum(axis=2) / norm)
    unknown = size[:, :, 0] < width / 2
    return np.asarray(np.where(unknown, 1.0, best).min(axis=1) > _BARS_CORRELATION)


def _parts(gray: Gray, quad: Quad, modules: int) -> list[tuple[float, float]]:
    """The symbols that a quad joins, as shares of its height from top to bottom."""
    modules_high = height_px(quad) / (length_px(quad) / modules)
    rows = int(np.clip(round(modules_high * _COLUMNS_PER_MODULE), 8, _MOST_ROWS))
    per_module = rows / modules_high
    flat = _flattened(gray, quad, modules * _COLUMNS_PER_MODULE, rows)
    parts = [
        run
        for run in _joined(_bar_runs(flat), _GAP_MODULES * per_module)
        if run[1] - run[0] >= _PART_MODULES * per_module
    ]
    apart = parts[:1]
    for part in parts[1:]:
        if _is_bare_paper(flat, apart[-1], part, per_module):
            apart.append(part)
        else:
            apart[-1] = (apart[-1][0], part[1])
    return [(first / rows, last / rows) for first, last in apart]


def _is_bare_paper(
    flat: Floats, above: tuple[int, int], below: tuple[int, int], per_module: float
) -> bool:
    """Whether between two runs of bars there is paper with clean ends of bars on both sides.

    Glare and creases interrupt one symbol: they are brighter or darker than the spaces
    between the bars, and the bars fade into them.
    """
    bars = np.concatenate([flat[slice(*above)], flat[slice(*below)]])
    dark, light = np.percentile(bars, (10, 90))
    margin = max(1, round(_FADE_MODULES * per_module))
    gap = flat[above[1] + margin : below[0] - margin]
    if not len(gap):
        return False
    if abs(float(np.median(gap)) - light) > _SAME_PAPER * (light - dark):
        return False
    pattern = bars.mean(axis=0) - bars.mean()
    shown = (flat - flat.mean(axis=1, keepdims=True)) @ pattern / float(pattern @ pattern + 1e-9)
    shown /= max(float(np.percentile(shown, 80)), 1e-9)
    inside = shown[above[1] - 3 * margin : above[1] - margin]
    later = shown[below[0] + margin : below[0] + 3 * margin]
    return bool(min(inside.min(initial=1.0), later.min(initial=1.0)) > _FULL_BARS)


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
    centered = flat - flat.mean(axis=1, keepdims=True)
    spread = np.sqrt((centered**2).mean(axis=1))
    typical = centered[spread >= np.median(spread) * 0.5].mean(axis=0)
    norm = float(np.sqrt((typical**2).mean()))
    if norm < 1e-6:
        return [(0, len(flat))]
    moved = np.stack([np.roll(typical, shift) for shift in range(-4, 5)])
    match = centered @ moved.T / flat.shape[1]
    best = match.max(axis=1) / (np.maximum(spread, 1e-6) * norm)
    best = np.maximum(best, 0.0)
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

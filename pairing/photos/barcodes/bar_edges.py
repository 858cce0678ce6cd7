"""A symbol's quad, measured on its own bars.

A decoder tells where its scan lines met a symbol: a slice of it, level in the photo however
the symbol lies. Here the bars themselves are followed: their direction from the structure
tensor, tile by tile; how far each tile's bars reach up and down; where the first and the
last bar end. Each of the four edges is a line of its own, so the quad has the perspective
that the photo has, and no right angle is taken for granted.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.barcodes.edge_lines import Edge, fitted_curve, fitted_edge, run_end
from pairing.photos.barcodes.engines import Gray
from pairing.photos.barcodes.halved import reduced
from pairing.photos.barcodes.quads import Floats, corners_of, height_px, length_px, quad_of

_PER_MODULE = 2.0
"""Columns a module in the picture that is looked at."""

_LEAST_X_PX = 3.0
"""To which wider bars are brought by halving the photo."""

_REACH_X = 90.0
"""How far up and down bars are followed, in X. A label's 0.75 in at 13 mils are 58 X."""

_TILES, _LEAST_TILES = 14, 6
_MOST_ROWS = 96  # in which the bars' direction is looked for
_ROWS_PER_MODULE = (0.5, 2.0)
_REACHES_X = (_REACH_X, 15.0)
"""At first the bars are followed roughly; then again, along their direction over their height and
a little further, as the first look may have stopped short of them at a tile."""
_ALIKE = 0.6
"""Correlation with the bars that were read from which a row of a tile shows the same bars.
Measured on sample_scans (`extent`): inside the bars 95 rows in 100 reach 0.9, outside 99 in
100 stay below 0.45."""

_BRIDGED_X = 5.0
"""Rows without bars that still are within one symbol: a crease, a streak. Between two symbols
there are 8 X and more (`stacks`)."""

_MOST_OFF_X = 1.2
"""How far a tile's end may lie from the edge that is fitted through all of them."""

_QUIET_X = 4.0
_MOST_TURN = 0.5
"""Tangent of the largest angle between bars and the square to the reading direction: an
oblique photo of 45 degrees leans them by 20 or so."""

_NEAREST_SHARE, _LEAST_LENGTH_SHARE, _MOST_LENGTH_SHARE = 0.4, 0.85, 1.18


@dataclass(frozen=True, slots=True, kw_only=True)
class _Grid:
    """Slanted coordinates on a symbol: u modules along a base line that crosses all bars, v
    modules down along the bars, whose direction may change steadily with u.

    start, end: the base line's ends in the photo, px. lean: (a, b): down is the square to the
    base line, leaned by a + b * u', u' from -1 to 1.
    """

    start: Floats
    end: Floats
    modules: int
    lean: tuple[float, float]

    def place(self, u: Floats, v: Floats) -> Floats:
        """Points (..., 2) in the photo."""
        step = (self.end - self.start) / self.modules
        down = np.array([-step[1], step[0]])
        lean = self.lean[0] + self.lean[1] * (2 * u / self.modules - 1)
        along = (u + lean * v)[..., None] * step
        return np.asarray(self.start + along + v[..., None] * down)


def measured(gray: Gray, quad: Quad, modules: int) -> Quad | None:
    """The symbol's four corners from its own edges; None where they do not tell.

    gray: (height, width) uint8. quad: where it was read, at least a slice across all its bars,
    start first. modules: its length in X, from the first bar to the last.
    """
    halvings = int(np.log2(max(length_px(quad) / modules / _LEAST_X_PX, 1.0)))
    if halvings:  # two columns a module are looked at, and large pictures cost most
        gray, x0, y0 = _window(gray, quad, _REACH_X * length_px(quad) / modules, 2**halvings)
        small = _measured(reduced(gray, halvings), _moved(quad, -x0, -y0, 0.5**halvings), modules)
        if small is None:
            return None
        return _moved(_moved(small, 0.0, 0.0, 2.0**halvings), x0, y0, 1.0)
    return _measured(gray, quad, modules)


def _window(gray: Gray, quad: Quad, around_px: float, step: int) -> tuple[Gray, int, int]:
    """The photo around a quad, some times `step` wide and high, and its top left corner."""
    points = corners_of(quad)
    x0, y0 = (max(0, int(v)) for v in points.min(axis=0) - around_px)
    x1, y1 = (max(1, int(v)) for v in points.max(axis=0) + around_px)
    x0, y0 = min(x0, gray.shape[1] - 1), min(y0, gray.shape[0] - 1)
    high, wide = (max(size // step * step, step) for size in gray[y0:y1, x0:x1].shape)
    return gray[y0 : y0 + high, x0 : x0 + wide], x0, y0


def _moved(quad: Quad, dx: float, dy: float, factor: float) -> Quad:
    return quad_of([((x + dx) * factor, (y + dy) * factor) for x, y in quad.corners])


def _measured(gray: Gray, quad: Quad, modules: int) -> Quad | None:
    a, b, c, d = corners_of(quad)
    grid = _Grid(start=(a + d) / 2, end=(b + c) / 2, modules=modules, lean=_lean_of_ends(quad))
    seen_x = max(2.0, 0.8 * height_px(quad) / length_px(quad) * modules)
    rows: tuple[float, float] = (-seen_x / 2, seen_x / 2)
    found: tuple[Floats, Floats, Floats] | None = None
    for per_module, reach in zip(_ROWS_PER_MODULE, _REACHES_X, strict=True):
        leaned = _leaned(gray, grid, rows)
        if leaned is None:
            return None
        grid = leaned
        found = _reaches(gray, grid, rows, per_module, reach)
        if found is None:
            return None
        rows = (float(np.median(found[1])), float(np.median(found[2])))
        if rows[1] - rows[0] < 2:
            return None
    assert found is not None
    return _cornered(gray, grid, found, quad)


def _lean_of_ends(quad: Quad) -> tuple[float, float]:
    """The lean of the quad's own ends, where it is tall enough to have one."""
    a, b, c, d = corners_of(quad)
    along = (b - a) + (c - d)
    down = (d - a) + (c - b)
    size = float(along @ along)
    across = float(along[0] * down[1] - along[1] * down[0])
    if across <= 0.02 * size:
        return 0.0, 0.0
    return float(np.clip(float(along @ down) / across, -_MOST_TURN, _MOST_TURN)), 0.0


def _sampled(gray: Gray, grid: _Grid, us: Floats, vs: Floats) -> NDArray[np.float32]:
    """Gray values at every (v, u): (len(vs), len(us)) float32; beyond the photo as at its edge."""
    base = grid.place(us, np.zeros_like(us))
    down = (grid.place(us, np.ones_like(us)) - base).astype(np.float32)
    base = (base - 0.5).astype(np.float32)  # OpenCV's pixel centers are whole numbers
    v = vs.astype(np.float32)[:, None]
    xs, ys = base[:, 0] + v * down[:, 0], base[:, 1] + v * down[:, 1]
    flat = cv2.remap(gray, xs, ys, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(flat, np.float32)


def _leaned(gray: Gray, grid: _Grid, rows: tuple[float, float]) -> _Grid | None:
    """The grid with its rows along the bars, as the structure tensor of each tile tells."""
    us = np.arange(0, grid.modules, 1 / _PER_MODULE) + 0.5 / _PER_MODULE
    high = rows[1] - rows[0]
    vs = np.linspace(rows[0], rows[1], int(np.clip(high * _PER_MODULE, 6, _MOST_ROWS)))
    step = float(vs[1] - vs[0])
    for _ in range(2):
        flat = cv2.GaussianBlur(_sampled(gray, grid, us, vs), (0, 0), 0.8)
        gx = cv2.Sobel(flat, cv2.CV_32F, 1, 0)[1:-1] * _PER_MODULE
        gy = cv2.Sobel(flat, cv2.CV_32F, 0, 1)[1:-1] / step
        upright = np.abs(gx) > np.abs(gy)
        edges = np.linspace(0, flat.shape[1], _TILES + 1).astype(int)
        jxx = np.add.reduceat((upright * gx * gx).sum(axis=0), edges[:-1]).astype(np.float64)
        jxy = np.add.reduceat((upright * gx * gy).sum(axis=0), edges[:-1]).astype(np.float64)
        if float(np.median(jxx)) <= 0:  # most of it is lost to glare or the photo's edge
            return None
        tilt = -jxy / (jxx + 1e-3)
        centers = (edges[:-1] + edges[1:]) / flat.shape[1] - 1
        design = np.stack([np.ones(_TILES), centers], axis=1)
        weight = np.minimum(jxx, np.median(jxx))
        # Across few rows the change of the lean along the symbol is mostly noise.
        shrink = 8.0 / max(high, 2.0) ** 2
        normal = design.T @ (design * weight[:, None]) + np.diag([0.0, shrink * weight.sum()])
        a, b = np.linalg.solve(normal, design.T @ (weight * tilt))
        lean = (grid.lean[0] + float(a), grid.lean[1] + float(b))
        if abs(lean[0]) > _MOST_TURN or abs(lean[1]) > _MOST_TURN:
            return None
        grid = _Grid(start=grid.start, end=grid.end, modules=grid.modules, lean=lean)
    return grid


def _reaches(
    gray: Gray, grid: _Grid, rows: tuple[float, float], per_module: float, reach: float
) -> tuple[Floats, Floats, Floats] | None:
    """(u of each tile's middle, v where its bars begin, v where they end), in modules, of each
    of which `per_module` rows are looked at, up to `reach` beyond `rows`."""
    us = np.arange(0, grid.modules, 1 / _PER_MODULE) + 0.5 / _PER_MODULE
    vs = np.arange(rows[0] - reach, rows[1] + reach, 1 / per_module)
    flat = _sampled(gray, grid, us, vs)
    inner = 0.15 * (rows[1] - rows[0])
    shown = (vs >= rows[0] + inner) & (vs <= rows[1] - inner)
    if shown.sum() < 2:
        shown = np.abs(vs - (rows[0] + rows[1]) / 2) <= 1.0 / per_module
    width = len(us) // _TILES
    tiles = flat[:, : width * _TILES].reshape(len(vs), _TILES, width)
    tiles = tiles - tiles.mean(axis=2, keepdims=True)
    typical = tiles[shown].mean(axis=0)
    power = np.sqrt(np.einsum("vtc,vtc->vt", tiles, tiles)) + 1e-3
    size = np.sqrt((typical * typical).sum(axis=1)) + 1e-3
    strength = np.median(power[shown], axis=0)
    best = np.zeros(power.shape)
    for shift in (-1, 0, 1):
        moved = np.roll(typical, shift, axis=1)
        best = np.maximum(best, np.einsum("vtc,tc->vt", tiles, moved) / (power * size))
    alike = (best > _ALIKE) & (power > 0.25 * strength)
    middle = int(np.argmin(np.abs(vs - (rows[0] + rows[1]) / 2)))
    gap = round(_BRIDGED_X * per_module)
    first = run_end(alike[middle::-1], gap)
    last = run_end(alike[middle:], gap)
    good = (first >= 0) & (last >= 0) & (strength > 4.0 * np.sqrt(width))
    if good.sum() < _LEAST_TILES:
        return None
    center = (np.arange(_TILES) + 0.5) * width / _PER_MODULE
    half = 0.5 / per_module
    return (
        center[good],
        (vs[middle] - first / per_module - half)[good],
        (vs[middle] + last / per_module + half)[good],
    )


def _cornered(
    gray: Gray, grid: _Grid, found: tuple[Floats, Floats, Floats], quad: Quad
) -> Quad | None:
    """The quad of the four edges, if it is one that a symbol can have."""
    us, tops, bottoms = found
    x_px = float(np.hypot(*(grid.end - grid.start))) / grid.modules
    edges = []
    for vs in (tops, bottoms):
        edge = fitted_edge(grid.place(us, vs), _MOST_OFF_X * x_px)
        if edge is None and (curve := fitted_curve(us, vs, _MOST_OFF_X)) is not None:
            # Around a tube, the line between its ends.
            ends = np.array([0.0, float(grid.modules)])
            first, last = grid.place(ends, np.asarray(np.polyval(curve, ends)))
            edge = Edge(at=first, along=last - first)
        if edge is None:
            return None
        edges.append(edge)
    upper, lower = edges
    rows = (float(np.median(tops)), float(np.median(bottoms)))
    left = _end_edge(gray, grid, rows, is_last=False)
    right = _end_edge(gray, grid, rows, is_last=True)
    try:
        corners = (
            upper.crossed(left), upper.crossed(right), lower.crossed(right), lower.crossed(left)
        )  # fmt: skip
    except np.linalg.LinAlgError:
        return None
    made = quad_of([(float(x), float(y)) for x, y in corners])
    share = length_px(made) / max(length_px(quad), 1.0)
    sides = [float(np.hypot(*(corners[i] - corners[(i + 1) % 4]))) for i in range(4)]
    is_even = min(sides[0], sides[2]) > 0.6 * max(sides[0], sides[2]) and min(
        sides[1], sides[3]
    ) > _NEAREST_SHARE * max(sides[1], sides[3])
    return made if is_even and _LEAST_LENGTH_SHARE < share < _MOST_LENGTH_SHARE else None


def _end_edge(gray: Gray, grid: _Grid, rows: tuple[float, float], *, is_last: bool) -> Edge:
    """The outer edge of the first or the last bar: found in each of several rows of tiles where
    the paper turns dark, near where the decoder met it; along the bars where that fails."""
    at = float(grid.modules) if is_last else 0.0
    sign = 1.0 if is_last else -1.0
    # From two modules inside, outwards: both the first and the last bar are two modules wide.
    outward = np.arange(-2.0, _QUIET_X, 0.125)
    us = at + sign * outward
    vs = np.linspace(rows[0], rows[1], 48)[3:-3]
    flat = _sampled(gray, grid, us, vs).reshape(7, 6, len(us)).mean(axis=1)
    centers = vs.reshape(7, 6).mean(axis=1)
    dark, light = np.percentile(flat, (8, 85), axis=1)
    half = ((dark + light) / 2)[:, None]
    rising = (flat[:, :-1] < half) & (flat[:, 1:] >= half)
    # The step that is nearest to where the end was taken to be.
    middle = (outward[:-1] + outward[1:]) / 2
    cost = np.where(rising, np.abs(middle), np.inf)
    best = np.argmin(cost, axis=1)
    found = np.isfinite(cost[np.arange(7), best]) & (light - dark > 15)
    moved = np.where(found, middle[best], np.nan)
    if found.sum() >= 4:
        off = float(np.nanmedian(moved))
        near = found & (np.abs(moved - off) < 0.75)
        if near.sum() >= 4 and rows[1] - rows[0] > 6:
            slope, start = np.polyfit(centers[near], moved[near], 1)
            slope = float(np.clip(slope, -0.05, 0.05))
            start = float(np.mean(moved[near] - slope * centers[near]))
            ends = at + sign * (start + slope * np.array(rows))
        else:
            ends = np.array([at + sign * off] * 2)
    else:
        ends = np.array([at, at])
    first, last = grid.place(ends, np.array(rows))
    return Edge(at=first, along=last - first)

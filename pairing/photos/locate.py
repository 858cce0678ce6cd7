"""Where bars stand in a photo, read or not: blocks of parallel edges.

The structure tensor of a reduced picture tells, cell by cell, how strong the edges
are and how far they share one direction. A symbol is a patch of strong edges of one
direction; text, hands and table tops are not.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.engines import Gray
from pairing.photos.places import height_px, length_px, overlap_share, quad_of

Floats32 = NDArray[np.float32]

_CELL = 4  # pixels of the reduced picture that make one cell
_BINS = 12  # directions that cells are sorted into, over 180 degrees
_BIN_REACH_DEG = 13.0
_LEAST_CELLS = 10
_STRIP_ROWS = 2048  # rows handled at a time, so that 50 MP need no float copy


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A patch that looks like bars.

    quad: around the bars, in photo pixels; its top edge runs across the bars, in
        one of the two possible reading directions.
    strength: total edge energy that shares the direction; ranks blocks.
    """

    quad: Quad
    strength: float


def reduced(gray: Gray, halvings: int) -> Gray:
    """Averaged down by 2 x 2, `halvings` times."""
    for _ in range(halvings):
        height, width = gray.shape
        size = (max(width // 2, 1), max(height // 2, 1))
        gray = np.asarray(cv2.resize(gray, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    return gray


def locate_blocks(
    gray: Gray, *, halvings: int = 0, least_coherence: float = 0.35, limit: int = 24
) -> tuple[Block, ...]:
    """Blocks of bars, strongest first, found in the picture halved `halvings` times."""
    small = reduced(gray, halvings)
    if min(small.shape) < 3 * _CELL:
        return ()
    jxx, jyy, jxy = _tensor_cells(small)
    total = jxx + jyy
    floor = _noise_floor(total)
    across = np.hypot(jxx - jyy, 2 * jxy)
    coherence = across / np.maximum(total, 1e-6)
    # The gradient's direction, i.e. across the bars, in degrees 0..180.
    direction = np.degrees(0.5 * np.arctan2(2 * jxy, jxx - jyy)) % 180.0
    live = (coherence > least_coherence) & (across > floor)
    scale = 2**halvings * _CELL
    found: list[Block] = []
    for index in range(_BINS):
        centre = index * 180.0 / _BINS
        gap = np.abs((direction - centre + 90) % 180 - 90)
        mask = (live & (gap < _BIN_REACH_DEG)).astype(np.uint8)
        if int(mask.sum()) < _LEAST_CELLS:
            continue
        closed = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
        found += _blocks_of(np.asarray(closed, np.uint8), jxx, jyy, jxy, scale)
    return _distinct(found)[:limit]


def locate_rows(gray: Gray, *, halvings: int = 0, limit: int = 6) -> tuple[Block, ...]:
    """Long patches of strong edges of any direction, longest first.

    Very low bars, and bars under streaks, show as many edges along the symbol as
    across it: no common direction, but a long straight patch all the same. The quad's
    top edge runs along the patch.
    """
    small = reduced(gray, halvings)
    if min(small.shape) < 3 * _CELL:
        return ()
    jxx, jyy, _ = _tensor_cells(small)
    total = jxx + jyy
    strong = total > max(_noise_floor(total), 0.15 * float(np.percentile(total, 98)))
    mask = cv2.morphologyEx(strong.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    scale = 2**halvings * _CELL
    found: list[Block] = []
    for label in range(1, count):
        x, y, w, h, size = (int(v) for v in stats[label])
        if size < _LEAST_CELLS or max(w, h) < 8:
            continue
        rows, columns = np.nonzero(labels[y : y + h, x : x + w] == label)
        xs, ys = columns.astype(np.float64) + x + 0.5, rows.astype(np.float64) + y + 0.5
        sxx, syy = float(xs.var()), float(ys.var())
        sxy = float(((xs - xs.mean()) * (ys - ys.mean())).mean())
        angle = 0.5 * math.atan2(2 * sxy, sxx - syy)
        quad = _rectangle(xs, ys, angle, scale)
        if quad is not None and length_px(quad) > 2.5 * height_px(quad):
            found.append(Block(quad=quad, strength=length_px(quad)))
    return _distinct(found)[:limit]


def _tensor_cells(small: Gray) -> tuple[Floats32, Floats32, Floats32]:
    """Structure tensor averaged over cells and softened over 3 x 3 of them."""
    height, width = small.shape
    rows, columns = height // _CELL, width // _CELL
    parts: list[list[Floats32]] = [[], [], []]
    for top in range(0, rows * _CELL, _STRIP_ROWS):
        bottom = min(rows * _CELL, top + _STRIP_ROWS)
        first, last = max(0, top - 1), min(height, bottom + 1)
        dx, dy = cv2.spatialGradient(np.ascontiguousarray(small[first:last]))
        inside = slice(top - first, bottom - first)
        gx = dx[inside, : columns * _CELL].astype(np.float32)
        gy = dy[inside, : columns * _CELL].astype(np.float32)
        size = (columns, (bottom - top) // _CELL)
        for part, product in zip(parts, (gx * gx, gy * gy, gx * gy), strict=True):
            part.append(
                np.asarray(cv2.resize(product, size, interpolation=cv2.INTER_AREA), np.float32)
            )
    jxx, jyy, jxy = (np.asarray(cv2.blur(np.vstack(p), (3, 3)), np.float32) for p in parts)
    return jxx, jyy, jxy


def _noise_floor(total: Floats32) -> float:
    """Energy below which edges are not worth a look: a few grey levels, or the noise."""
    quiet = float(np.percentile(total, 20))
    return max(60.0, 0.5 * quiet)


def _blocks_of(
    mask: NDArray[np.uint8], jxx: Floats32, jyy: Floats32, jxy: Floats32, scale: int
) -> list[Block]:
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    out: list[Block] = []
    for label in range(1, count):
        x, y, w, h, size = (int(v) for v in stats[label])
        if size < _LEAST_CELLS:
            continue
        window = (slice(y, y + h), slice(x, x + w))
        inside = labels[window] == label
        weights = [part[window][inside] for part in (jxx, jyy, jxy)]
        angle = 0.5 * math.atan2(
            2 * float(weights[2].sum()), float(weights[0].sum() - weights[1].sum())
        )
        strength = float(np.hypot(weights[0].sum() - weights[1].sum(), 2 * weights[2].sum()))
        rows, columns = np.nonzero(inside)
        xs, ys = columns.astype(np.float64) + x + 0.5, rows.astype(np.float64) + y + 0.5
        quad = _rectangle(xs, ys, angle, scale)
        if quad is not None:
            out.append(Block(quad=quad, strength=strength * scale * scale))
    return out


def _rectangle(
    xs: NDArray[np.float64], ys: NDArray[np.float64], angle: float, scale: int
) -> Quad | None:
    """The rectangle along `angle` around cell centres, in photo pixels."""
    cos, sin = math.cos(angle), math.sin(angle)
    u, v = xs * cos + ys * sin, ys * cos - xs * sin
    # Stray cells at a border must not stretch the rectangle.
    u0, u1 = np.percentile(u, (0.5, 99.5))
    v0, v1 = np.percentile(v, (2, 98))
    u0, u1, v0, v1 = u0 - 0.5, u1 + 0.5, v0 - 0.5, v1 + 0.5
    if (u1 - u0) < 5 or len(u) < 0.35 * (u1 - u0) * (v1 - v0):
        return None
    corners = ((u0, v0), (u1, v0), (u1, v1), (u0, v1))
    return quad_of([(scale * (a * cos - b * sin), scale * (a * sin + b * cos)) for a, b in corners])


def _distinct(blocks: list[Block]) -> tuple[Block, ...]:
    """The strongest of blocks that lie on each other, strongest first."""
    kept: list[Block] = []
    for block in sorted(blocks, key=lambda b: b.strength, reverse=True):
        if all(overlap_share(block.quad, other.quad) < 0.5 for other in kept):
            kept.append(block)
    return tuple(kept)

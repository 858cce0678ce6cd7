"""Where bars stand in a photo, read or not: blocks of parallel edges.

The structure tensor of a reduced picture tells, cell by cell, how strong the edges
are and how far they share one direction. A symbol is a patch of strong edges of one
direction; text, hands and table tops are not.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.engines import Gray
from pairing.photos.places import corners_of, height_px, length_px, overlap_share, quad_of

Floats32 = NDArray[np.float32]

_CELL = 4  # pixels of the reduced picture that make one cell
_BINS = 12  # directions that cells are sorted into, over 180 degrees
_BIN_REACH_DEG = 13.0
_LEAST_CELLS = 10
_LEAST_COHERENCE = 0.35
_FAINT_BESIDE_KNOWN = 0.02  # energy; a seventh of the contrast
_MOST_COMPARED = 48
_FAINT = 0.01  # share of the strongest block's energy below which a block is left out
_FAINT_CELL = 0.003  # of the patch's typical energy: bars in deep shade still have more
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
    gray: Gray, *, halvings: int = 0, known: Sequence[Quad] = (), limit: int = 24
) -> tuple[Block, ...]:
    """Blocks of bars, strongest first, found in the picture halved `halvings` times.

    known: places that need no finding. Where there are any, their energy also tells how
        strong bars are in this photo, and what is far weaker is left out.
    """
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
    live = (coherence > _LEAST_COHERENCE) & (across > floor)
    scale = 2**halvings * _CELL
    if known:
        taken = _covered(known, live.shape, scale)
        if taken.any():
            live &= across > _FAINT_BESIDE_KNOWN * float(np.median(across[taken]))
        live &= ~taken
    patches: list[_Patch] = []
    for index in range(_BINS):
        centre = index * 180.0 / _BINS
        gap = np.abs((direction - centre + 90) % 180 - 90)
        mask = (live & (gap < _BIN_REACH_DEG)).astype(np.uint8)
        if int(mask.sum()) < _LEAST_CELLS:
            continue
        closed = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
        patches += _patches_of(np.asarray(closed, np.uint8), jxx - jyy, 2 * jxy)
    patches.sort(key=lambda patch: -patch.strength)
    blocks = [_block_of(patch, scale) for patch in patches[:_MOST_COMPARED]]
    return _distinct([b for b in blocks if b is not None])[:limit]


def _covered(known: Sequence[Quad], shape: tuple[int, ...], scale: int) -> NDArray[np.bool_]:
    """The cells that known places cover, with the cells around them."""
    canvas = np.zeros(shape, np.uint8)
    for quad in known:
        cv2.fillConvexPoly(canvas, np.round(corners_of(quad) / scale).astype(np.int32), 1)
    return np.asarray(cv2.dilate(canvas, np.ones((5, 5), np.uint8)) > 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Patch:
    """Connected cells of one direction: their window in the cell grid, and which are in it."""

    x: int
    y: int
    inside: NDArray[np.bool_]
    angle: float
    strength: float


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


def _patches_of(mask: NDArray[np.uint8], difference: Floats32, product: Floats32) -> list[_Patch]:
    """Connected patches; `difference` and `product` are the tensor's double-angle vector."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    flat = labels.ravel()
    cos = np.bincount(flat, weights=difference.ravel(), minlength=count)
    sin = np.bincount(flat, weights=product.ravel(), minlength=count)
    strength = np.hypot(cos, sin)
    strength[0] = 0
    energy = np.hypot(difference, product)
    out: list[_Patch] = []
    for label in np.argsort(-strength)[:_MOST_COMPARED].tolist():
        x, y, w, h, size = (int(v) for v in stats[label])
        if size < _LEAST_CELLS or strength[label] <= 0:
            continue
        out.append(
            _Patch(
                x=x,
                y=y,
                inside=_strong_part(
                    labels[y : y + h, x : x + w] == label, energy[y : y + h, x : x + w]
                ),
                angle=0.5 * math.atan2(float(sin[label]), float(cos[label])),
                strength=float(strength[label]),
            )
        )
    return out


def _strong_part(inside: NDArray[np.bool_], energy: Floats32) -> NDArray[np.bool_]:
    """A patch without the faint shading that joins on to it."""
    typical = float(np.percentile(energy[inside], 80))
    return np.asarray(inside & (energy > _FAINT_CELL * typical))


def _block_of(patch: _Patch, scale: int) -> Block | None:
    rows, columns = np.nonzero(patch.inside)
    xs = columns.astype(np.float64) + patch.x + 0.5
    ys = rows.astype(np.float64) + patch.y + 0.5
    quad = _rectangle(xs, ys, patch.angle, scale)
    if quad is None:
        return None
    return Block(quad=quad, strength=patch.strength * scale * scale)


def _rectangle(
    xs: NDArray[np.float64], ys: NDArray[np.float64], angle: float, scale: int
) -> Quad | None:
    """The rectangle along `angle` around cell centres, in photo pixels."""
    cos, sin = math.cos(angle), math.sin(angle)
    u, v = xs * cos + ys * sin, ys * cos - xs * sin
    # Stray cells at a border must not stretch the rectangle.
    u0, u1 = _trimmed(u, 0.005)
    v0, v1 = _trimmed(v, 0.02)
    u0, u1, v0, v1 = u0 - 0.5, u1 + 0.5, v0 - 0.5, v1 + 0.5
    if (u1 - u0) < 5 or len(u) < 0.35 * (u1 - u0) * (v1 - v0):
        return None
    corners = ((u0, v0), (u1, v0), (u1, v1), (u0, v1))
    return quad_of([(scale * (a * cos - b * sin), scale * (a * sin + b * cos)) for a, b in corners])


def _trimmed(values: NDArray[np.float64], share: float) -> tuple[float, float]:
    """Least and greatest value with `share` of them left out at each end."""
    ordered = np.sort(values)
    out = int(share * (len(ordered) - 1))
    return float(ordered[out]), float(ordered[-1 - out])


def _distinct(blocks: list[Block]) -> tuple[Block, ...]:
    """The strongest of blocks that lie on each other, strongest first; faint ones left out."""
    ordered = sorted(blocks, key=lambda b: b.strength, reverse=True)[:_MOST_COMPARED]
    kept: list[Block] = []
    for block in ordered:
        if block.strength < _FAINT * ordered[0].strength:
            break
        if all(overlap_share(block.quad, other.quad) < 0.5 for other in kept):
            kept.append(block)
    return tuple(kept)

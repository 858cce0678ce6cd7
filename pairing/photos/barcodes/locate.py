"""Where bars are in a photo, read or not: blocks of parallel edges.

The structure tensor of a reduced picture tells, cell by cell, how strong the edges
are and how far they share one direction. A symbol is a patch of strong edges of one
direction; text, hands and table tops are not.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.barcodes.engines import Gray
from pairing.photos.barcodes.halved import Halved
from pairing.photos.barcodes.quads import common_share, corners_of, height_px, length_px, quad_of

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
_STRIP_ROWS = 128  # rows handled at a time: they stay in the processor's cache


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A patch that looks like bars.

    quad: around the bars, in photo pixels; its top edge runs across the bars, in
        one of the two possible reading directions.
    strength: total edge energy that shares the direction; ranks blocks.
    """

    quad: Quad
    strength: float


def locate_blocks(
    photo: Halved, *, halvings: int = 0, known: Sequence[Quad] = (), limit: int = 24
) -> tuple[Block, ...]:
    """Blocks of bars, strongest first, found in the picture halved `halvings` times.

    known: places that need no finding. Where there are any, their energy also tells how
        strong bars are in this photo, and what is far weaker is left out.
    """
    small = photo.at(halvings)
    if min(small.shape) < 3 * _CELL:
        return ()
    jxx, jyy, jxy = _tensor_cells(small)
    total = jxx + jyy
    difference, product = jxx - jyy, 2 * jxy
    across = np.asarray(cv2.magnitude(difference, product), np.float32)
    live = (across > _LEAST_COHERENCE * total) & (across > _noise_floor(total))
    scale = 2**halvings * _CELL
    if known:
        taken = _covered(known, live.shape, scale)
        if taken.any():
            live &= across > _FAINT_BESIDE_KNOWN * float(np.median(across[taken]))
        live &= ~taken
    patches: list[_Patch] = []
    for mask in _direction_masks(live, difference, product):
        closed = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
        patches += _patches_of(np.asarray(closed, np.uint8), difference, product)
    patches.sort(key=lambda patch: -patch.strength)
    blocks = [_block_of(patch, across, scale) for patch in patches[:_MOST_COMPARED]]
    return _distinct([b for b in blocks if b is not None])[:limit]


def _direction_masks(
    live: NDArray[np.bool_], difference: Floats32, product: Floats32
) -> Iterator[NDArray[np.uint8]]:
    """For each direction that enough live cells share, which ones do: uint8, 1 where so."""
    places = np.flatnonzero(live)
    if len(places) < _LEAST_CELLS:
        return
    # The gradient's direction, i.e. across the bars, in degrees 0..180; a cell counts for the
    # nearest direction, and for the one on its other side if that is within reach too.
    double = cv2.phase(
        difference.ravel()[places][None], product.ravel()[places][None], angleInDegrees=True
    )[0]
    turn = double * np.float32(_BINS / 360)
    nearest = np.rint(turn)
    off = turn - nearest
    first = nearest.astype(np.int8) % _BINS
    other = (nearest + np.sign(off)).astype(np.int8) % _BINS
    is_both = np.abs(off) > 1 - _BIN_REACH_DEG * _BINS / 180
    for index in range(_BINS):
        chosen = places[(first == index) | (is_both & (other == index))]
        if len(chosen) >= _LEAST_CELLS:
            mask = np.zeros(live.shape, np.uint8)
            mask.ravel()[chosen] = 1
            yield mask


def _covered(known: Sequence[Quad], shape: tuple[int, ...], scale: int) -> NDArray[np.bool_]:
    """The cells that known places cover, with the cells around them."""
    canvas = np.zeros(shape, np.uint8)
    for quad in known:
        cv2.fillConvexPoly(canvas, np.round(corners_of(quad) / scale).astype(np.int32), 1)
    return np.asarray(cv2.dilate(canvas, np.ones((5, 5), np.uint8)) > 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Patch:
    """Connected cells of one direction: of the cells `places` (indices into the grid) those whose
    `labels` are `label`."""

    places: NDArray[np.int64]
    labels: NDArray[np.int32]
    label: int
    angle: float
    strength: float

    def cells(self, columns: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Their rows and columns in a grid of so many columns."""
        return np.divmod(self.places[self.labels == self.label], columns)


def locate_rows(photo: Halved, *, halvings: int = 0, limit: int = 6) -> tuple[Block, ...]:
    """Long patches of strong edges of any direction, longest first.

    Very low bars, and bars under streaks, show as many edges along the symbol as
    across it: no common direction, but a long straight patch all the same. The quad's
    top edge runs along the patch.
    """
    small = photo.at(halvings)
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
        dx = cv2.Sobel(small[first:last], cv2.CV_16S, 1, 0)
        dy = cv2.Sobel(small[first:last], cv2.CV_16S, 0, 1)
        inside = slice(top - first, bottom - first)
        gx, gy = dx[inside, : columns * _CELL], dy[inside, : columns * _CELL]
        size = (columns, (bottom - top) // _CELL)
        for part, (one, other) in zip(parts, ((gx, gx), (gy, gy), (gx, gy)), strict=True):
            product = cv2.multiply(one, other, dtype=cv2.CV_32F)
            part.append(
                np.asarray(cv2.resize(product, size, interpolation=cv2.INTER_AREA), np.float32)
            )
    jxx, jyy, jxy = (np.asarray(cv2.blur(np.vstack(p), (3, 3)), np.float32) for p in parts)
    return jxx, jyy, jxy


def _noise_floor(total: Floats32) -> float:
    """Energy below which edges are not worth a look: a few gray levels, or the noise."""
    quiet = float(np.percentile(total[::4, ::4], 20))
    return max(60.0, 0.5 * quiet)


def _patches_of(mask: NDArray[np.uint8], difference: Floats32, product: Floats32) -> list[_Patch]:
    """Connected patches; `difference` and `product` are the tensor's double-angle vector."""
    count, labels = cv2.connectedComponents(mask, connectivity=8)
    places = np.flatnonzero(mask.view(np.bool_))
    label_of = np.asarray(labels.ravel()[places], np.int32)
    size = np.bincount(label_of, minlength=count)
    cos = np.bincount(label_of, weights=difference.ravel()[places], minlength=count)
    sin = np.bincount(label_of, weights=product.ravel()[places], minlength=count)
    strength = np.where(size < _LEAST_CELLS, 0.0, np.hypot(cos, sin))
    out: list[_Patch] = []
    for label in np.argsort(-strength)[:_MOST_COMPARED].tolist():
        if strength[label] <= 0:
            break
        out.append(
            _Patch(
                places=places,
                labels=label_of,
                label=label,
                angle=0.5 * math.atan2(float(sin[label]), float(cos[label])),
                strength=float(strength[label]),
            )
        )
    return out


def _block_of(patch: _Patch, across: Floats32, scale: int) -> Block | None:
    rows, columns = patch.cells(across.shape[1])
    energy = across[rows, columns]
    # Leave out the faint shading that joins on to the bars.
    typical = np.partition(energy, round(0.8 * (len(energy) - 1)))[round(0.8 * (len(energy) - 1))]
    strong = energy > _FAINT_CELL * float(typical)
    xs = columns[strong].astype(np.float64) + 0.5
    ys = rows[strong].astype(np.float64) + 0.5
    quad = _rectangle(xs, ys, patch.angle, scale)
    if quad is None:
        return None
    return Block(quad=quad, strength=patch.strength * scale * scale)


def _rectangle(
    xs: NDArray[np.float64], ys: NDArray[np.float64], angle: float, scale: int
) -> Quad | None:
    """The rectangle along `angle` around cell centers, in photo pixels."""
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
    out = int(share * (len(values) - 1))
    last = len(values) - 1 - out
    parted = np.partition(values, (out, last))
    return float(parted[out]), float(parted[last])


def _distinct(blocks: list[Block]) -> tuple[Block, ...]:
    """The strongest of blocks that lie on each other, strongest first; faint ones left out."""
    ordered = sorted(blocks, key=lambda b: b.strength, reverse=True)[:_MOST_COMPARED]
    if not ordered:
        return ()
    corners = np.array([block.quad.corners for block in ordered], np.float64)
    least, most = corners.min(axis=1), corners.max(axis=1)
    # Most pairs are told apart by their bounds alone.
    may_meet = ((least[:, None] <= most[None]) & (least[None] <= most[:, None])).all(axis=2)
    kept: list[int] = []
    for at, block in enumerate(ordered):
        if block.strength < _FAINT * ordered[0].strength:
            break
        near = [other for other in kept if may_meet[at, other]]
        if all(common_share(corners[at], corners[other]) < 0.5 for other in near):
            kept.append(at)
    return tuple(ordered[at] for at in kept)

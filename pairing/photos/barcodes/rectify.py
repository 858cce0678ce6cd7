"""A block of bars cut out of the photo and laid flat, bars upright.

The block's own perspective is measured on its bars: how far they lean, tile by tile
along the symbol, and a lean that changes steadily is taken out with it.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.barcodes.engines import Gray
from pairing.photos.barcodes.quads import (
    Floats,
    corners_of,
    grown,
    height_px,
    length_px,
    quad_of,
    squared,
)

Floats32 = NDArray[np.float32]

_MOST_COLUMNS = 1800
_MOST_ROWS = 160
_TILES = 8
_ROWS_TO_HALVE = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """A block laid flat.

    pixels: (rows, columns) float32, 0..255; bars run from top to bottom.
    to_photo: 3 x 3, from strip coordinates (column, row) to the photo's.
    lean: (a, b): a bar at column c and row r was at c + (a + b * c') * (r - middle)
        before it was straightened, c' running from -1 to 1 along the strip.
    scale: strip columns for one photo pixel.
    bars: first and last column of the block without the margin.
    """

    pixels: Floats32
    to_photo: Floats
    lean: tuple[float, float]
    scale: float
    bars: tuple[float, float]

    def place(self, column: float, row: float) -> tuple[float, float]:
        """A point of the straightened strip, in photo pixels."""
        rows, columns = self.pixels.shape
        along = 2 * column / columns - 1
        c = column + (self.lean[0] + self.lean[1] * along) * (row - rows / 2)
        x, y, w = self.to_photo @ np.array([c, row, 1.0])
        return float(x / w), float(y / w)

    def quad(self, first: float, last: float, *, top: float, bottom: float) -> Quad:
        """The photo quad of columns first..last (first > last where read backwards)."""
        if first <= last:
            corners = ((first, top), (last, top), (last, bottom), (first, bottom))
        else:  # seen by the reader, top and bottom change places too
            corners = ((first, bottom), (last, bottom), (last, top), (first, top))
        return squared(quad_of([self.place(c, r) for c, r in corners]))


def cut_strip(
    gray: Gray, quad: Quad, *, margin_share: float = 0.14, inset_rows: float = 0.0
) -> Strip | None:
    """Cut `quad` out of the photo with a margin at both ends; None where it is too small.

    margin_share: margin at each end in lengths of the block.
    inset_rows: share of the height left out at top and bottom.
    """
    length, height = length_px(quad), height_px(quad)
    if length < 20 or height < 2:
        return None
    margin = length * margin_share + 6
    wide = grown(quad, along_px=margin, across_px=-height * inset_rows)
    scale = min(2.0 if length < 900 else 1.0, _MOST_COLUMNS / (length + 2 * margin))
    columns = max(16, round((length + 2 * margin) * scale))
    rows = int(np.clip(round(height * (1 - 2 * inset_rows) * min(scale, 1.0)), 3, _MOST_ROWS))
    target = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], dtype=np.float32)
    window, x0, y0 = _window(gray, wide)
    source = corners_of(wide) - (x0, y0)
    halvings = 0
    while scale * 2 ** (halvings + 1) <= 1.0 and height / 2 ** (halvings + 1) >= 24:
        halvings += 1
    if halvings:
        window = _halved(window, halvings)
    matrix = cv2.getPerspectiveTransform((source / 2**halvings).astype(np.float32), target).astype(
        np.float64
    )
    shift = np.diag([1.0 / 2**halvings, 1.0 / 2**halvings, 1.0])
    shift[:2, 2] = -x0 / 2**halvings, -y0 / 2**halvings
    # OpenCV's pixel centers are whole numbers, ours are halves.
    half = np.array([[1, 0, -0.5], [0, 1, -0.5], [0, 0, 1.0]])
    to_strip = half @ matrix @ np.linalg.inv(half)
    flat = cv2.warpPerspective(
        window,
        to_strip,
        (columns, rows),
        flags=cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=_paper_level(gray, wide, window),
    ).astype(np.float32)
    strip = Strip(
        pixels=flat,
        to_photo=np.asarray(np.linalg.inv(matrix @ shift), dtype=np.float64),
        lean=(0.0, 0.0),
        scale=columns / (length + 2 * margin),
        bars=(margin * scale, columns - margin * scale),
    )
    return _straightened(strip)


def flat_cut(gray: Gray, quad: Quad, *, columns: int, rows: int, quiet_columns: int) -> Gray:
    """A quad of known corners as a small flat picture, `quiet_columns` of photo on each side."""
    quiet = length_px(quad) * quiet_columns / columns
    wide = grown(quad, along_px=quiet, across_px=-0.1 * height_px(quad))
    window, x0, y0 = _window(gray, wide)
    source = corners_of(wide) - (x0, y0)
    total = columns + 2 * quiet_columns
    halvings = 0
    while length_px(quad) / columns >= 1.6 * 2**halvings and halvings < 4:
        halvings += 1
    window = _halved(window, halvings)
    target = np.array([[0, 0], [total, 0], [total, rows], [0, rows]], dtype=np.float32)
    matrix = cv2.getPerspectiveTransform(
        (source / 2**halvings - 0.5).astype(np.float32), target - np.float32(0.5)
    )
    return np.asarray(
        cv2.warpPerspective(
            window,
            matrix,
            (total, rows),
            flags=cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=_paper_level(gray, wide, window),
        ),
        dtype=np.uint8,
    )


def _paper_level(gray: Gray, wide: Quad, window: Gray) -> float:
    """What stands beyond the photo's edge: paper, so that a symbol cut off flush with
    it keeps a quiet zone. Asked only where the quad goes beyond it."""
    points = corners_of(wide)
    if points.min() >= 1 and (points.max(axis=0) < np.array(gray.shape[::-1]) - 1).all():
        return 0.0
    return float(np.percentile(window[::3, ::3], 85))


def _window(gray: Gray, quad: Quad) -> tuple[Gray, int, int]:
    """The part of the photo around a quad, not copied, and its top left corner."""
    points = corners_of(quad)
    x0, y0 = (int(v) for v in np.maximum(np.floor(points.min(axis=0)) - 4, 0))
    x1, y1 = (int(v) for v in np.ceil(points.max(axis=0)) + 5)
    x0, y0 = min(x0, gray.shape[1] - 1), min(y0, gray.shape[0] - 1)
    return gray[y0 : max(y1, y0 + 1), x0 : max(x1, x0 + 1)], x0, y0


def _halved(window: Gray, halvings: int) -> Gray:
    for _ in range(halvings):
        height, width = window.shape
        size = (max(width // 2, 1), max(height // 2, 1))
        window = np.asarray(
            cv2.resize(window[: size[1] * 2, : size[0] * 2], size, interpolation=cv2.INTER_AREA),
            dtype=np.uint8,
        )
    return window


def _straightened(strip: Strip) -> Strip:
    """Bars that lean are set upright; a steady change of lean along the strip too."""
    if len(strip.pixels) < 4:
        return strip
    rows, columns = strip.pixels.shape
    looked_at = strip.pixels
    if rows >= _ROWS_TO_HALVE and strip.scale > 1:  # drawn wider than the photo had it anyway
        looked_at = np.asarray(
            cv2.resize(looked_at, (columns // 2, rows // 2), interpolation=cv2.INTER_AREA),
            np.float32,
        )
    a, b = _lean_of(looked_at)
    da, db = _lean_of(_sheared(looked_at, a, b))
    a, b = a + da, b + db
    pixels = _sheared(strip.pixels, a, b)
    return Strip(
        pixels=pixels, to_photo=strip.to_photo, lean=(a, b), scale=strip.scale, bars=strip.bars
    )


def _lean_of(pixels: Floats32) -> tuple[float, float]:
    """Columns a bar moves for each row, and how that changes along the strip."""
    soft = cv2.GaussianBlur(pixels, (0, 0), 1.0)
    gx = cv2.Sobel(soft, cv2.CV_32F, 1, 0)[1:-1]
    gy = cv2.Sobel(soft, cv2.CV_32F, 0, 1)[1:-1]
    edges = np.linspace(0, pixels.shape[1], _TILES + 1).astype(int)
    # Edges that run along the strip (its own border, a line of print) say nothing.
    upright = (np.abs(gx) > np.abs(gy)).astype(np.float32)
    jxx = np.add.reduceat((upright * gx * gx).sum(axis=0), edges[:-1]) + 1e-3
    jxy = np.add.reduceat((upright * gx * gy).sum(axis=0), edges[:-1])
    centers = (edges[:-1] + edges[1:]) / pixels.shape[1] - 1
    lean = -jxy / jxx
    design = np.stack([np.ones(_TILES), centers], axis=1)
    weight = np.minimum(jxx, np.median(jxx))
    normal = design.T @ (design * weight[:, None]) + np.diag([0.0, 0.3 * weight.sum()])
    a, b = np.linalg.solve(normal, design.T @ (weight * lean))
    return float(np.clip(a, -0.7, 0.7)), float(np.clip(b, -0.5, 0.5))


def _sheared(pixels: Floats32, a: float, b: float) -> Floats32:
    rows, columns = pixels.shape
    c, r = np.meshgrid(np.arange(columns, dtype=np.float32), np.arange(rows, dtype=np.float32))
    lean = a + b * (2 * c / columns - 1)
    shifted = c + lean * (r + 0.5 - rows / 2)
    return np.asarray(
        cv2.remap(
            pixels,
            shifted.astype(np.float32),
            r,
            cv2.INTER_CUBIC,
            borderMode=cv2.BORDER_REPLICATE,
        ),
        dtype=np.float32,
    )

"""A quick look at a block: could these be the bars of one symbol?"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.barcodes.engines import Gray
from pairing.photos.barcodes.quads import height_px, length_px, quad_of
from pairing.photos.barcodes.rectify import flat_cut
from pairing.photos.code128.scanline import swings

Floats = NDArray[np.float64]

_MOST_COLUMNS = 512
_ROWS = 32
_BANDS = 4
_TILES = 4
_TILE_COLUMNS = 60  # fewer would agree with anything at some shift
_LEAST_SWINGS = 24
"""Changes between dark and light. Six digits, the shortest symbol among the reference photos,
have 37 edges, of which blur may hide some; numbers of mail have 70 and more. Fewer let
writing and table grain pass, which then costs far more to refuse."""

_LEAST_SWINGS_BESIDE = 30
"""A 20-digit symbol has 80 edges. Measured on sample_scans: its 83 symbols have 77 and more at a
likeness of 0.96 and more; of the 231 places refused by this rule none has more than 0.49."""

_LEAST_DEPTH = 0.8  # mean swing in grey levels; rows averaged, paper's noise is below it
_LEAST_LIKENESS = 0.6
_LEAST_LENGTH_PX = 36.0


def turned_quad(quad: Quad) -> Quad:
    """The same corners, with what ran along the bars running across them."""
    a, b, c, d = quad.corners
    return quad_of([b, c, d, a])


def worth_reading(gray: Gray, quad: Quad, *, is_beside: bool = False) -> list[Quad]:
    """The quad in the directions in which it may be read, likelier first; maybe none.

    is_beside: the photo has a symbol that was read. Then a second one is as sharp, and its
    bars run through from top to bottom, as no line of writing does; what does not is left.

    Streaks across bars and very low bars show stronger edges along the symbol than
    the bars themselves, so the other direction gets its chance.
    """
    scored = []
    for candidate in (quad, turned_quad(quad)):
        if length_px(candidate) < _LEAST_LENGTH_PX or height_px(candidate) < 2:
            continue
        swings, likeness = _looks(gray, candidate, is_beside=is_beside)
        least = _LEAST_SWINGS_BESIDE if is_beside else _LEAST_SWINGS
        if swings >= least and likeness > _LEAST_LIKENESS:
            scored.append((likeness * min(swings, 60), candidate))
    scored.sort(key=lambda pair: -pair[0])
    return [candidate for _, candidate in scored]


def _looks(gray: Gray, quad: Quad, *, is_beside: bool) -> tuple[int, float]:
    """(changes between dark and light, likeness of neighbouring bands of rows: of the pair
    least alike where bars must run through, else of the most alike)."""
    columns = int(min(_MOST_COLUMNS, max(24, length_px(quad))))
    flat = flat_cut(gray, quad, columns=columns, rows=_ROWS, quiet_columns=0).astype(np.float64)
    spread = flat.std(axis=1) + 1e-3
    weight = (spread / spread.max()) ** 2
    size = _ROWS // _BANDS
    bands = [
        _high_passed(np.average(flat[a : a + size], axis=0, weights=weight[a : a + size]))
        for a in range(0, _ROWS, size)
    ]
    choose = min if is_beside else max
    likeness = choose(_likeness(upper, lower) for upper, lower in pairwise(bands))
    best = max(bands, key=lambda band: float(np.abs(band).mean()))
    depth = float(np.abs(best).mean())
    return swings(best, 0.7 * depth) if depth > _LEAST_DEPTH else 0, likeness


def _likeness(upper: Floats, lower: Floats) -> float:
    """Correlation, tile by tile, each tile shifted for the best: bars may lean."""
    reach = 6
    found = []
    tiles = int(np.clip(len(upper) // _TILE_COLUMNS, 1, _TILES))
    edges = np.linspace(reach, len(upper) - reach, tiles + 1).astype(int)
    for first, last in pairwise(edges):
        mine = upper[first:last]
        others = np.lib.stride_tricks.sliding_window_view(
            lower[first - reach : last + reach], len(mine)
        )
        norms = np.sqrt((mine @ mine) * (others * others).sum(axis=1)) + 1e-9
        found.append(float((others @ mine / norms).max()))
    return float(np.mean(found))


def _high_passed(line: Floats) -> Floats:
    width = max(9, len(line) // 10) | 1
    padded = np.pad(line, width // 2, mode="edge")
    return line - np.convolve(padded, np.ones(width) / width, "valid")

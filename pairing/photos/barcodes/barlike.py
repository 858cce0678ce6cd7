"""A quick look at a block: could these be the bars of one symbol?

Beside a symbol that was read, only bars that run through from top to bottom are looked at:
handwriting costs too much to refuse by reading it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.barcodes.halved import Halved
from pairing.photos.barcodes.quads import corners_of, height_px, length_px, quad_of
from pairing.photos.barcodes.rectify import flat_cut
from pairing.photos.code128.scanline import swings

Floats32 = NDArray[np.float32]

_MOST_COLUMNS = 512
_SHRUNK, _MOST_HALVINGS = 1.6, 4  # photo pixels a column from which the photo is halved first
_ROWS = 32
_BANDS = 4
_FINE_ROWS, _FINE_BANDS = 48, 12  # when bars are separated from print
_MOST_RUNS = 2
_TILES = 4
_SHIFT = 6  # columns
_TILE_COLUMNS = 60  # fewer would agree with anything at some shift
_LEAST_SWINGS = 24
"""Changes between dark and light. Six digits, the shortest symbol among the reference photos,
have 37 edges, of which blur may hide some; numbers of mail have 70 and more. Fewer let
writing and table grain pass, which then costs far more to refuse."""

_MANY_SWINGS = 60  # more make a place no likelier: 20 digits have 80 edges, some lost to blur

_LEAST_SWINGS_BESIDE = 30
"""A 20-digit symbol has 80 edges. Measured on sample_scans: its 83 symbols have 77 and more at a
likeness of 0.96 and more; of the 231 places refused by this rule none has more than 0.49."""

_LEAST_DEPTH = 0.8  # mean swing in gray levels; rows averaged, paper's noise is below it
_LEAST_LIKENESS = 0.6
_LEAST_LENGTH_PX = 36.0
X_RANGE = 2.0
"""A strip's narrow bar beside the card's: 13 to 21 mils are allowed (BCOCA); paper at the far end
of an oblique photo is seen smaller. Half to twice of what was read."""

_X_SLACK = 1.4  # X told from the number of swings alone, of which blur hides some
_MODULES_PER_EDGE = 11 / 6  # 6 edges to each character of 11 modules (ISO/IEC 15417)
_LEAST_MODULES, _MOST_MODULES = 79.0, 310.0
"""Lengths of what is looked for beside a symbol: from 6 characters to 27, start, check and stop
included; the shortest number here has 13 letters and digits, the longest 34 digits."""

_LEAST_HEIGHT_X = 4.0
_FAINT_BESIDE = 0.12
"""Share of the depth of the bars that were read: half as wide bars in deep shade have a sixth."""

_FAINT_MIXED = _FAINT_BESIDE / 2  # of a block in which print is averaged with the bars


def turned_quad(quad: Quad) -> Quad:
    """The same corners, with what ran along the bars running across them."""
    a, b, c, d = quad.corners
    return quad_of([b, c, d, a])


@dataclass(frozen=True, slots=True, kw_only=True)
class Likely:
    """A quad that may be read. share: how much it shows of what bars show, 0 to 1. depth: their
    mean swing in gray levels. swings: changes between dark and light along it."""

    quad: Quad
    share: float
    depth: float
    swings: int

    @property
    def promise(self) -> float:
        """Ranks the places of one photo."""
        return self.share * self.depth


def worth_reading(photo: Halved, quad: Quad) -> list[Likely]:
    """The quad in the directions in which it may be read, likelier first; maybe none.

    Streaks across bars and very low bars show stronger edges along the symbol than
    the bars themselves, so the other direction gets its chance.
    """
    scored = []
    for candidate in _directions(quad):
        seen = _looks(photo, candidate)
        if seen.swings < _LEAST_SWINGS:
            continue
        likeness = float(seen.likenesses().max())
        if likeness > _LEAST_LIKENESS:
            scored.append(_likely(candidate, seen, likeness))
    return sorted(scored, key=lambda likely: -likely.share)


def _likely(quad: Quad, seen: _Look, likeness: float) -> Likely:
    share = likeness * min(seen.swings, _MANY_SWINGS) / _MANY_SWINGS
    return Likely(quad=quad, share=share, depth=seen.depth, swings=seen.swings)


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the symbols that were read in a photo tell of others there. least_x_px, most_x_px:
    between which their X must lie. depth: the mean swing of the bars read, in gray levels."""

    least_x_px: float
    most_x_px: float
    depth: float


def known_of(
    photo: Halved, read: Sequence[tuple[Quad, float]], depth_of: dict[Quad, float]
) -> Known:
    """What symbols that were read, each with its X in px, tell of others in the photo.

    depth_of: the depths of the quads that were looked at before; others are added.
    """
    xs = [x_px for _, x_px in read]
    for quad, _ in read:
        if quad not in depth_of:
            depth_of[quad] = _looks(photo, quad).depth
    depths = [depth_of[quad] for quad, _ in read]
    return Known(
        least_x_px=min(xs) / X_RANGE,
        most_x_px=max(xs) * X_RANGE,
        depth=float(np.median(depths)),
    )


def worth_reading_beside(photo: Halved, quad: Quad, known: Known) -> Likely | None:
    """The bars in a block of a photo that has a symbol which was read; None where there are
    none. A second symbol is as sharp, and its bars run through from top to bottom, as no line
    of writing does. Print above and below that is in the same block is separated from them.
    """
    for candidate in _directions(quad):
        modules = length_px(candidate) / known.least_x_px
        if modules < _LEAST_MODULES or modules > _MOST_MODULES * known.most_x_px / known.least_x_px:
            continue
        if height_px(candidate) < _LEAST_HEIGHT_X * known.least_x_px:
            continue
        seen = _looks(photo, candidate)
        if (likely := _bars_beside(seen, candidate, known)) is not None:
            return likely
        if seen.swings < _LEAST_SWINGS_BESIDE / 2 or seen.depth < _FAINT_MIXED * known.depth:
            continue  # an edge, a few strokes, grain: there is nothing in it to separate
        for first, last in _bar_rows(_flat(photo, candidate, _FINE_ROWS)):
            part = _rows_of(candidate, first, last)
            if height_px(part) < _LEAST_HEIGHT_X * known.least_x_px:
                continue
            if (likely := _bars_beside(_looks(photo, part), part, known)) is not None:
                return likely
    return None


def _bars_beside(seen: _Look, quad: Quad, known: Known) -> Likely | None:
    if seen.swings < _LEAST_SWINGS_BESIDE or seen.depth <= _FAINT_BESIDE * known.depth:
        return None
    x_px = length_px(quad) / (seen.swings * _MODULES_PER_EDGE)
    if not known.least_x_px / _X_SLACK < x_px < known.most_x_px * _X_SLACK:
        return None
    # Bars run through from top to bottom: the pair of bands that is least alike counts.
    likeness = float(seen.likenesses().min())
    return _likely(quad, seen, likeness) if likeness > _LEAST_LIKENESS else None


def _directions(quad: Quad) -> list[Quad]:
    return [
        candidate
        for candidate in (quad, turned_quad(quad))
        if length_px(candidate) >= _LEAST_LENGTH_PX and height_px(candidate) >= 2
    ]


def _bar_rows(flat: Floats32) -> list[tuple[float, float]]:
    """Stretches of rows, as shares of the height, that show one pattern each; tallest first."""
    bands = _high_passed(flat.reshape(_FINE_BANDS, -1, flat.shape[1]).mean(axis=1))
    same = (_likenesses(bands) > _LEAST_LIKENESS).tolist()
    runs: list[tuple[int, int]] = []
    for band, is_same in enumerate(same):
        if is_same and runs and runs[-1][1] == band:
            runs[-1] = (runs[-1][0], band + 1)
        elif is_same:
            runs.append((band, band + 1))
    runs.sort(key=lambda run: run[0] - run[1])
    return [(a / _FINE_BANDS, (b + 1) / _FINE_BANDS) for a, b in runs[:_MOST_RUNS]]


def _rows_of(quad: Quad, first: float, last: float) -> Quad:
    a, b, c, d = corners_of(quad)
    points = (a + (d - a) * first, b + (c - b) * first, b + (c - b) * last, a + (d - a) * last)
    return quad_of([(float(x), float(y)) for x, y in points])


def _flat(photo: Halved, quad: Quad, rows: int) -> Floats32:
    length = length_px(quad)
    columns = int(min(_MOST_COLUMNS, max(24, length)))
    halvings = int(np.clip(np.floor(np.log2(length / (_SHRUNK * columns))) + 1, 0, _MOST_HALVINGS))
    small = quad_of([(x / 2**halvings, y / 2**halvings) for x, y in quad.corners])
    flat = flat_cut(photo.at(halvings), small, columns=columns, rows=rows, quiet_columns=0)
    return flat.astype(np.float32)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Look:
    """A look at a block's rows in bands, one below the other. swings: changes between dark and
    light in the deepest band. depth: its mean swing in gray levels."""

    swings: int
    depth: float
    bands: Floats32

    def likenesses(self) -> Floats32:
        """Correlation of neighboring bands; what costs most, so asked last."""
        return _likenesses(self.bands)


def _looks(photo: Halved, quad: Quad) -> _Look:
    flat = _flat(photo, quad, _ROWS)
    spread = flat.std(axis=1) + 1e-3
    weight = (spread / spread.max()) ** 2
    size = _ROWS // _BANDS
    weight = weight.reshape(_BANDS, 1, size)
    shares = weight / weight.sum(axis=2, keepdims=True)
    bands = _high_passed((shares @ flat.reshape(_BANDS, size, -1))[:, 0])
    depths = np.abs(bands).mean(axis=1)
    best, depth = bands[int(depths.argmax())], float(depths.max())
    count = swings(best, 0.7 * depth) if depth > _LEAST_DEPTH else 0
    return _Look(swings=count, depth=depth, bands=bands)


def _likenesses(lines: Floats32) -> Floats32:
    """Correlation of each line with the next, tile by tile, each tile shifted for the best: bars
    may lean. lines: (n, columns); (n - 1,) comes back."""
    upper, lower = lines[:-1], lines[1:]
    size = lines.shape[1]
    tiles = int(np.clip(size // _TILE_COLUMNS, 1, _TILES))
    edges = np.linspace(_SHIFT, size - _SHIFT, tiles + 1).astype(int)
    inner = upper[:, None, edges[0] : edges[-1]]
    others = np.lib.stride_tricks.sliding_window_view(lower, edges[-1] - edges[0], axis=1)
    starts = edges[:-1] - edges[0]
    product = np.add.reduceat(others * inner, starts, axis=2)
    # A tile's power at every shift from running sums: no product of its own.
    summed = np.pad(np.cumsum(lower.astype(np.float64) ** 2, axis=1), ((0, 0), (1, 0)))
    shift = np.arange(others.shape[1])[:, None]
    power = summed[:, edges[1:] - _SHIFT + shift] - summed[:, edges[:-1] - _SHIFT + shift]
    mine = np.add.reduceat(inner * inner, starts, axis=2)
    best = (product / (np.sqrt(power * mine) + 1e-9)).max(axis=1).mean(axis=1)
    return np.asarray(best, np.float32)


def _high_passed(lines: Floats32) -> Floats32:
    """Rows without their local mean."""
    width = max(9, lines.shape[1] // 10) | 1
    return np.asarray(lines - cv2.blur(lines, (width, 1), borderType=cv2.BORDER_REPLICATE))

"""What a Code 128 symbol looks like through blur: predicted darkness, sample by sample.

Lengths are in modules (X); darkness runs from 0 (space) to 1 (bar).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pairing.photos.code128 import encoding

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]

SAMPLES = 4
"""Samples a module. Blur leaves nothing above 2 cycles a module to be lost."""

CELL = encoding.CHARACTER_MODULES * SAMPLES
HALF = CELL // 2
LEAD = 2 * SAMPLES
"""Quiet zone on each side that the fit looks at; print may be further out."""

TAIL = encoding.STOP_MODULES * SAMPLES - HALF + LEAD
STARTS = (encoding.START_A, encoding.START_B, encoding.START_C)
DATA_VALUES = 103  # 0..102 may be between start and stop

_FINE = 8  # sub-samples a sample when element edges are drawn


def sample_count(characters: int) -> int:
    """Samples of a profile for `characters` (start to check) plus stop and lead."""
    return LEAD + characters * CELL + encoding.STOP_MODULES * SAMPLES + LEAD


def sample_places(characters: int) -> Floats:
    """Each sample's place in modules from the first bar's left edge."""
    return (np.arange(sample_count(characters)) + 0.5) / SAMPLES - LEAD / SAMPLES


def gaussian_blur(sigma: float) -> Floats:
    """A blur kernel on the sample grid; `sigma` in modules."""
    reach = int(np.ceil(3 * sigma * SAMPLES)) + 1
    t = np.arange(-reach, reach + 1) / SAMPLES
    kernel = np.exp(-0.5 * (t / max(sigma, 0.05)) ** 2)
    return np.asarray(kernel / kernel.sum())


def box_blur(width: float) -> Floats:
    """Motion along the reading direction over `width` modules, softened a little."""
    fine = np.zeros(16 * _FINE * SAMPLES)
    span = max(1, round(width * SAMPLES * _FINE))
    middle = len(fine) // 2
    fine[middle - span // 2 : middle - span // 2 + span] = 1
    coarse = fine.reshape(-1, _FINE).sum(axis=1)
    coarse = np.convolve(coarse, gaussian_blur(0.2), mode="same")
    reach = int(np.ceil((width / 2 + 0.8) * SAMPLES)) + 1
    middle = len(coarse) // 2
    kernel = coarse[middle - reach : middle + reach + 1]
    # The even number of coarse cells puts the middle half a cell off: re-center.
    kernel = (kernel + kernel[::-1]) / 2
    return np.asarray(kernel / kernel.sum())


def disk_blur(radius: float) -> Floats:
    """A defocus disk seen along one axis; `radius` in modules."""
    reach = int(np.ceil((radius + 0.6) * SAMPLES)) + 1
    t = np.arange(-reach * _FINE, reach * _FINE + 1) / (SAMPLES * _FINE)
    fine = np.sqrt(np.clip(radius**2 - t**2, 0, None))
    fine = np.convolve(fine, np.ones(_FINE), mode="same")
    kernel = np.convolve(fine[::_FINE], gaussian_blur(0.15), mode="same")
    return np.asarray(kernel / kernel.sum())


@lru_cache(maxsize=24)
def _drawn_characters(gain: float) -> tuple[Floats, Floats]:
    """Darkness of each character and of the stop on the sample grid, each bar
    `gain` modules wider than nominal, within a frame of one cell on either side."""
    characters = np.array(
        [_drawn(w, gain, 3 * CELL, CELL) for w in encoding.WIDTHS], dtype=np.float64
    )
    stop = _drawn(encoding.STOP_WIDTHS, gain, CELL + HALF + TAIL + CELL, CELL)
    return characters, stop


def _drawn(widths: str, gain: float, size: int, offset: int) -> Floats:
    """Coverage of each sample by bars; the first bar starts at `offset`."""
    edges = np.concatenate(([0], np.cumsum([int(w) for w in widths])))
    out = np.zeros(size)
    grid = np.arange(size + 1, dtype=np.float64)
    for left, right in zip(edges[:-1:2], edges[1::2], strict=True):
        a = (left - gain / 2) * SAMPLES + offset
        b = (right + gain / 2) * SAMPLES + offset
        out += np.clip(np.minimum(grid[1:], b) - np.maximum(grid[:-1], a), 0, None)
    return np.minimum(out, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Quick:
    """A model's tables in single precision, for `rough_costs.least_costs`.

    lead, falling, stop_ends: (values, samples); rising: (data values, samples).
    crossed: (values, data values): what a pair's prediction has in it of squares.
    """

    lead: Floats32
    falling: Floats32
    rising: Floats32
    crossed: Floats32
    stop_ends: Floats32
    stop_tail: Floats32


class BlurModel:
    """Predicted darkness of all characters under one blur kernel and bar gain.

    kernel: on the sample grid, odd length, sum 1, at most one cell long.
    """

    def __init__(self, kernel: Floats, gain: float = 0.0) -> None:
        characters, stop = _drawn_characters(round(gain * 20) / 20)
        self.kernel = kernel
        self.gain = gain
        blurred = _convolved(characters, kernel)
        stop_blurred = _convolved(stop[None], kernel)[0]
        # A character's share of the window from its predecessor's middle to its own
        # middle, and of the window from its own middle to its successor's.
        self.rising = np.ascontiguousarray(blurred[:, HALF : HALF + CELL])
        self.falling = np.ascontiguousarray(blurred[:, HALF + CELL : HALF + 2 * CELL])
        self.lead = np.ascontiguousarray(blurred[:, CELL - LEAD : CELL + HALF])
        self.stop_rising = stop_blurred[HALF : HALF + CELL]
        self.stop_tail = stop_blurred[CELL + HALF : CELL + HALF + TAIL]
        self.whole = blurred
        self.stop_whole = stop_blurred
        self._quick: Quick | None = None

    @property
    def quick(self) -> Quick:
        """Made when first used, for most models never are."""
        if self._quick is None:
            falling, rising = self.falling, self.rising[:DATA_VALUES]
            crossed = (
                2 * falling @ rising.T
                + (falling**2).sum(axis=1)[:, None]
                + (rising**2).sum(axis=1)[None]
            )
            self._quick = Quick(
                lead=self.lead.astype(np.float32),
                falling=falling.astype(np.float32),
                rising=rising.astype(np.float32),
                crossed=crossed.astype(np.float32),
                stop_ends=(self.stop_rising + falling).astype(np.float32),
                stop_tail=self.stop_tail.astype(np.float32),
            )
        return self._quick

    def predicted(self, values: tuple[int, ...]) -> Floats:
        """Darkness of the whole symbol on the grid of `sample_places`."""
        size = sample_count(len(values))
        out = np.zeros(size + 2 * CELL)
        at = LEAD
        for value in values:
            out[at : at + 3 * CELL] += self.whole[value]
            at += CELL
        stop = self.stop_whole[: len(out) - at]
        out[at : at + len(stop)] += stop
        return np.minimum(out[CELL : CELL + size], 1.0)


def _convolved(rows: Floats, kernel: Floats) -> Floats:
    padded = np.pad(rows, ((0, 0), (len(kernel) // 2, len(kernel) // 2)))
    windows = np.lib.stride_tricks.sliding_window_view(padded, len(kernel), axis=1)
    return np.asarray(windows @ kernel[::-1])

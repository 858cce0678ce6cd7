"""Our own reader: the most likely Code 128 symbol behind a blurred profile.

Engines measure edges; where blur or few pixels have drowned the narrow elements
there are none to measure. This reader turns the question round: it predicts the
profile of every pair of neighbouring symbol characters under the blur at hand and
finds the chain of characters whose prediction lies nearest (Viterbi's algorithm).
It says by how much the best chain beats the second best, and its callers refuse a
close call.

Lengths here are in modules (X); darkness runs from 0 (space) to 1 (bar).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pairing.photos import code128

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SAMPLES = 4
"""Samples a module. Blur leaves nothing above 2 cycles a module to be lost."""

CELL = code128.CHARACTER_MODULES * SAMPLES
HALF = CELL // 2
LEAD = 2 * SAMPLES
"""Quiet zone on each side that the fit looks at; print may stand further out."""

TAIL = code128.STOP_MODULES * SAMPLES - HALF + LEAD
_STARTS = (code128.START_A, code128.START_B, code128.START_C)
_DATA_VALUES = 103  # 0..102 may stand between start and stop

_FINE = 8  # sub-samples a sample when element edges are drawn


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """The best run of characters for a profile.

    values: start, data and check values.
    cost: summed squared darkness error of the best run.
    margin: how much more the next best run costs (a run that differs in the least
        convincing characters and, as the check demands, in two at least).
    passes: whether the best run's check character holds.
    """

    values: tuple[int, ...]
    cost: float
    margin: float
    passes: bool


def sample_count(characters: int) -> int:
    """Samples of a profile for `characters` (start to check) plus stop and lead."""
    return LEAD + characters * CELL + code128.STOP_MODULES * SAMPLES + LEAD


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
    # The even number of coarse cells puts the middle half a cell off: re-centre.
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
        [_drawn(w, gain, 3 * CELL, CELL) for w in code128.WIDTHS], dtype=np.float64
    )
    stop = _drawn(code128.STOP_WIDTHS, gain, CELL + HALF + TAIL + CELL, CELL)
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
        self._crossed: Floats | None = None
        self.stop_whole = stop_blurred

    @property
    def crossed(self) -> Floats:
        """Pair terms of an evenly trusted window: (values, values); made when first used."""
        if self._crossed is None:
            falling, rising = self.falling, self.rising[:_DATA_VALUES]
            self._crossed = (
                2 * falling @ rising.T
                + (falling**2).sum(axis=1)[:, None]
                + (rising**2).sum(axis=1)[None]
            )
        return self._crossed

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


def best_chain(dark: Floats, weight: Floats, model: BlurModel) -> Chain:
    """The most likely characters for a profile on the grid of `sample_places`.

    dark: darkness, about 0..1.
    weight: trust in each sample, 0..1.
    """
    steps = _step_costs(dark, weight, model)
    first, middle, last = steps
    forward = [first]
    came_from = []
    for cost in middle:
        total = forward[-1][:, None] + cost
        source = np.argmin(total, axis=0)
        came_from.append(source)
        forward.append(total[source, np.arange(total.shape[1])])
    final = forward[-1] + last
    path = [int(np.argmin(final))]
    for source in reversed(came_from):
        path.append(int(source[path[-1]]))
    values = tuple(reversed(path))
    best = float(final.min())
    margins = _least_detours(forward, middle, last, values, best)
    passes = code128.check_value(values[:-1]) == values[-1]
    return Chain(values=values, cost=best, margin=float(np.sort(margins)[:2].sum()), passes=passes)


def least_cost(dark: Floats, model: BlurModel) -> float:
    """What the best run costs when every sample is trusted alike; quick, without the run."""
    characters = (len(dark) - 2 * LEAD - code128.STOP_MODULES * SAMPLES) // CELL
    lead = dark[: LEAD + HALF]
    so_far = ((lead - model.lead[list(_STARTS)]) ** 2).sum(axis=1)[:, None]
    rows: slice | list[int] = list(_STARTS)
    at = LEAD + HALF
    for _ in range(characters - 1):
        window = dark[at : at + CELL]
        left = so_far - 2 * (model.falling[rows] @ window)[:, None]
        right = -2 * model.rising[:_DATA_VALUES] @ window + float(window @ window)
        so_far = ((left + model.crossed[rows]).min(axis=0) + right)[:, None]
        rows = slice(0, _DATA_VALUES)
        at += CELL
    error = dark[at : at + CELL] - model.stop_rising - model.falling[rows]
    end = dark[at + CELL : at + CELL + TAIL] - model.stop_tail
    return float((so_far[:, 0] + (error**2).sum(axis=1)).min() + (end**2).sum())


def best_checked_chain(dark: Floats, weight: Floats, model: BlurModel) -> Chain:
    """As `best_chain`, among those runs alone whose check character holds.

    The margin is exact here: the next best run that also passes its check.
    """
    first, middle, last = _step_costs(dark, weight, model)
    values_range = np.arange(_DATA_VALUES)
    count = len(middle)
    start = np.full((code128.CHECK_MODULUS, first.size), np.inf)
    for value in _STARTS:
        start[value % code128.CHECK_MODULUS, value] = first[value]
    forward: list[Floats] = [start]
    for place, cost in enumerate(middle, start=1):
        reached = _reached(forward[-1], cost)
        if place < count:
            reached = _turned(reached, place)
        forward.append(reached)
    # The last character is the check: it must equal the residue so far.
    final = forward[-1][values_range, values_range] + last[:_DATA_VALUES]
    return _traced(forward, middle, last, int(np.argmin(final)), float(final.min()))


def _reached(so_far: Floats, cost: Floats) -> Floats:
    """min over the predecessor: (residues, values) x (values, values) -> (residues, values)."""
    out = np.full((code128.CHECK_MODULUS, cost.shape[1]), np.inf)
    live = np.flatnonzero(np.isfinite(so_far).any(axis=0))
    for value in live:
        np.minimum(out, so_far[:, value, None] + cost[value][None], out=out)
    return out


def _turned(reached: Floats, place: int) -> Floats:
    """Add place x value to each residue."""
    residues = np.arange(code128.CHECK_MODULUS)[:, None]
    values = np.arange(reached.shape[1])[None]
    source = (residues - place * values) % code128.CHECK_MODULUS
    return np.asarray(np.take_along_axis(reached, source, axis=0))


def _traced(
    forward: list[Floats], middle: list[Floats], last: Floats, check: int, best: float
) -> Chain:
    """The best run back from its check, and the next best by a pass from the end."""
    count = len(middle)
    residue, value = check, check
    path = [check]
    for place in range(count, 0, -1):
        if place < count:
            residue = (residue - place * value) % code128.CHECK_MODULUS
        column = forward[place - 1][residue] + middle[place - 1][:, value]
        value = int(np.argmin(column))
        path.append(value)
    values = tuple(reversed(path))
    backward = np.full_like(forward[-1], np.inf)
    diagonal = np.arange(_DATA_VALUES)
    backward[diagonal, diagonal] = last[:_DATA_VALUES]
    second = np.inf
    for place in range(count, -1, -1):
        through = (forward[place] + backward).min(axis=0)
        through[values[place]] = np.inf
        second = min(second, float(through.min()))
        if place:
            entering = backward
            if place < count:
                residues = np.arange(code128.CHECK_MODULUS)[:, None]
                shift = place * np.arange(backward.shape[1])[None]
                target = (residues + shift) % code128.CHECK_MODULUS
                entering = np.take_along_axis(backward, target, axis=0)
            backward = _reached(entering, middle[place - 1].T)
    return Chain(values=values, cost=best, margin=second - best, passes=True)


def _step_costs(
    dark: Floats, weight: Floats, model: BlurModel
) -> tuple[Floats, list[Floats], Floats]:
    """Squared errors: of each first character's lead, of each pair, of each last one's end."""
    characters = (len(dark) - 2 * LEAD - code128.STOP_MODULES * SAMPLES) // CELL
    lead = slice(0, LEAD + HALF)
    first = np.full(len(code128.WIDTHS), np.inf)
    for value in _STARTS:
        first[value] = (weight[lead] * (dark[lead] - model.lead[value]) ** 2).sum()
    middle = []
    for place in range(characters - 1):
        window = slice(LEAD + HALF + place * CELL, LEAD + HALF + (place + 1) * CELL)
        cost = _pair_costs(dark[window], weight[window], model)
        cost[:, _DATA_VALUES:] = np.inf
        middle.append(cost)
    at = LEAD + HALF + (characters - 1) * CELL
    end = slice(at, at + CELL)
    error = dark[end] - model.stop_rising - model.falling
    last = (weight[end] * error**2).sum(axis=1)
    tail = slice(at + CELL, at + CELL + TAIL)
    last = last + (weight[tail] * (dark[tail] - model.stop_tail) ** 2).sum()
    return first, middle, np.asarray(last)


def _pair_costs(dark: Floats, weight: Floats, model: BlurModel) -> Floats:
    falling, rising = model.falling, model.rising
    weighted = falling * weight
    left = (weighted * falling).sum(axis=1) - 2 * weighted @ dark
    right = ((rising * weight) * rising).sum(axis=1) - 2 * (rising * weight) @ dark
    both = 2 * weighted @ rising.T
    return np.asarray((weight * dark**2).sum() + left[:, None] + right[None] + both)


def _least_detours(
    forward: list[Floats],
    middle: list[Floats],
    last: Floats,
    values: tuple[int, ...],
    best: float,
) -> Floats:
    """For each place, how much more the best run costs that has another value there."""
    backward = last
    detours = np.empty(len(values))
    for place in range(len(values) - 1, -1, -1):
        through = forward[place] + backward
        through[values[place]] = np.inf
        detours[place] = through.min() - best
        if place:
            backward = (middle[place - 1] + backward[None]).min(axis=1)
    return detours

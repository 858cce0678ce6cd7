"""Our own reader: the most likely Code 128 symbol behind a blurred profile.

Engines measure edges; where blur or few pixels have drowned the narrow elements
there are none to measure. This reader turns the question round: it predicts the
profile of every pair of neighboring symbol characters under the blur at hand and
finds the chain of characters whose prediction lies nearest (Viterbi's algorithm).
It says by how much the best chain beats the second best, and its callers refuse a
close call.

Lengths here are in modules (X); darkness runs from 0 (space) to 1 (bar).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pairing.photos.code128 import encoding
from pairing.photos.code128.blur import (
    CELL,
    DATA_VALUES,
    HALF,
    LEAD,
    SAMPLES,
    STARTS,
    TAIL,
    BlurModel,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


_KEPT = 24
"""Values that go on at each character of `least_costs`."""


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
    passes = encoding.check_value(values[:-1]) == values[-1]
    return Chain(values=values, cost=best, margin=float(np.sort(margins)[:2].sum()), passes=passes)


def least_costs(dark: Floats, model: BlurModel) -> Floats:
    """What the best run costs on each of several profiles of one length, every sample trusted
    alike; quick, without the runs.

    dark: (profiles, samples). At each character only the `_KEPT` likeliest values go on, so
    that a cost may come out a little too high.
    """
    rows = dark.astype(np.float32)
    quick = model.quick
    characters = (rows.shape[1] - 2 * LEAD - encoding.STOP_MODULES * SAMPLES) // CELL
    lead = rows[:, None, : LEAD + HALF] - quick.lead[None, list(STARTS)]
    so_far = (lead * lead).sum(axis=2)
    kept = np.repeat(np.array(STARTS)[None], len(rows), axis=0)
    ends = LEAD + HALF + (characters - 1) * CELL
    windows = rows[:, LEAD + HALF : ends].reshape(len(rows), characters - 1, CELL)
    falling = -2 * windows @ quick.falling.T
    rising = (windows * windows).sum(axis=2)[:, :, None] - 2 * windows @ quick.rising.T
    each = np.arange(len(rows))[:, None]
    for place in range(characters - 1):
        left = so_far + falling[:, place][each, kept]
        costs = (quick.crossed[kept] + left[:, :, None]).min(axis=1) + rising[:, place]
        kept = np.argpartition(costs, _KEPT, axis=1)[:, :_KEPT]
        so_far = costs[each, kept]
    error = rows[:, None, ends : ends + CELL] - quick.stop_ends[kept]
    tail = rows[:, ends + CELL : ends + CELL + TAIL] - quick.stop_tail
    total = (so_far + (error * error).sum(axis=2)).min(axis=1) + (tail * tail).sum(axis=1)
    return np.asarray(total, np.float64)


def best_checked_chain(dark: Floats, weight: Floats, model: BlurModel) -> Chain:
    """As `best_chain`, among those runs alone whose check character holds.

    The margin is exact here: the next best run that also passes its check.
    """
    first, middle, last = _step_costs(dark, weight, model)
    values_range = np.arange(DATA_VALUES)
    count = len(middle)
    start = np.full((encoding.CHECK_MODULUS, first.size), np.inf)
    for value in STARTS:
        start[value % encoding.CHECK_MODULUS, value] = first[value]
    forward: list[Floats] = [start]
    for place, cost in enumerate(middle, start=1):
        reached = _reached(forward[-1], cost)
        if place < count:
            reached = _turned(reached, place)
        forward.append(reached)
    # The last character is the check: it must equal the residue so far.
    final = forward[-1][values_range, values_range] + last[:DATA_VALUES]
    return _traced(forward, middle, last, int(np.argmin(final)), float(final.min()))


def _reached(so_far: Floats, cost: Floats) -> Floats:
    """min over the predecessor: (residues, values) x (values, values) -> (residues, values)."""
    out = np.full((encoding.CHECK_MODULUS, cost.shape[1]), np.inf)
    live = np.flatnonzero(np.isfinite(so_far).any(axis=0))
    for value in live:
        np.minimum(out, so_far[:, value, None] + cost[value][None], out=out)
    return out


def _turned(reached: Floats, place: int) -> Floats:
    """Add place x value to each residue."""
    residues = np.arange(encoding.CHECK_MODULUS)[:, None]
    values = np.arange(reached.shape[1])[None]
    source = (residues - place * values) % encoding.CHECK_MODULUS
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
            residue = (residue - place * value) % encoding.CHECK_MODULUS
        column = forward[place - 1][residue] + middle[place - 1][:, value]
        value = int(np.argmin(column))
        path.append(value)
    values = tuple(reversed(path))
    backward = np.full_like(forward[-1], np.inf)
    diagonal = np.arange(DATA_VALUES)
    backward[diagonal, diagonal] = last[:DATA_VALUES]
    second = np.inf
    for place in range(count, -1, -1):
        through = (forward[place] + backward).min(axis=0)
        through[values[place]] = np.inf
        second = min(second, float(through.min()))
        if place:
            entering = backward
            if place < count:
                residues = np.arange(encoding.CHECK_MODULUS)[:, None]
                shift = place * np.arange(backward.shape[1])[None]
                target = (residues + shift) % encoding.CHECK_MODULUS
                entering = np.take_along_axis(backward, target, axis=0)
            backward = _reached(entering, middle[place - 1].T)
    return Chain(values=values, cost=best, margin=second - best, passes=True)


def _step_costs(
    dark: Floats, weight: Floats, model: BlurModel
) -> tuple[Floats, list[Floats], Floats]:
    """Squared errors: of each first character's lead, of each pair, of each last one's end."""
    characters = (len(dark) - 2 * LEAD - encoding.STOP_MODULES * SAMPLES) // CELL
    lead = slice(0, LEAD + HALF)
    first = np.full(len(encoding.WIDTHS), np.inf)
    for value in STARTS:
        first[value] = (weight[lead] * (dark[lead] - model.lead[value]) ** 2).sum()
    middle = []
    for place in range(characters - 1):
        window = slice(LEAD + HALF + place * CELL, LEAD + HALF + (place + 1) * CELL)
        middle.append(_pair_costs(dark[window], weight[window], model))
    at = LEAD + HALF + (characters - 1) * CELL
    end = slice(at, at + CELL)
    error = dark[end] - model.stop_rising - model.falling
    last = (weight[end] * error**2).sum(axis=1)
    tail = slice(at + CELL, at + CELL + TAIL)
    last = last + (weight[tail] * (dark[tail] - model.stop_tail) ** 2).sum()
    return first, middle, np.asarray(last)


def _pair_costs(dark: Floats, weight: Floats, model: BlurModel) -> Floats:
    """Single precision within: a hundredth of a nat lies far above its rounding."""
    falling, rising = model.quick.falling, model.quick.rising
    dark, weight = dark.astype(np.float32), weight.astype(np.float32)
    weighted = falling * weight
    left = weighted @ (-2 * dark) + (weighted * falling).sum(axis=1)
    right = (rising * weight) @ (-2 * dark) + (rising * rising) @ weight
    costs = np.full((len(falling), len(encoding.WIDTHS)), np.inf)
    costs[:, :DATA_VALUES] = (2 * weighted) @ rising.T + left[:, None] + right
    costs[:, :DATA_VALUES] += float((weight * dark) @ dark)
    return costs


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

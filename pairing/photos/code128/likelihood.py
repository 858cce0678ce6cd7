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


_DATA = np.arange(DATA_VALUES)


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


def best_checked_chain(
    dark: Floats, weight: Floats, model: BlurModel, most_above: float = np.inf
) -> Chain | None:
    """As `best_chain`, among those runs alone whose check character holds.

    most_above: runs that cost so much more than the best of all are not looked at; None comes
        back where no other passes its check. The margin is to the next best run that also passes,
        or to what was not looked at.
    """
    steps = _step_costs(dark, weight, model)
    through, best = _through_costs(*steps)
    limit = best + most_above
    kept = [np.flatnonzero(costs <= limit) for costs in through]
    if any(len(values) == 0 for values in kept) or not np.intersect1d(kept[-1], _DATA).size:
        return None
    middle = [
        cost[np.ix_(before, after)]
        for cost, before, after in zip(steps[1], kept, kept[1:], strict=False)
    ]
    return _checked_run(steps[0][kept[0]], middle, steps[2][kept[-1]], kept, limit)


def _through_costs(first: Floats, middle: list[Floats], last: Floats) -> tuple[list[Floats], float]:
    """For each place what the best run costs that has each value there, and the least of all."""
    forward = [first]
    for cost in middle:
        forward.append((forward[-1][:, None] + cost).min(axis=0))
    backward = last
    through = [forward[-1] + last]
    for cost, so_far in zip(reversed(middle), reversed(forward[:-1]), strict=True):
        backward = (cost + backward[None]).min(axis=1)
        through.append(so_far + backward)
    return through[::-1], float(through[0].min())


def _checked_run(
    first: Floats, middle: list[Floats], last: Floats, kept: list[Ints], limit: float
) -> Chain | None:
    """The best run that passes its check, of the values kept at each place; all costs are of those
    alone. Costs by residue of the sum so far: (residues, values)."""
    start = np.full((encoding.CHECK_MODULUS, len(first)), np.inf)
    start[kept[0] % encoding.CHECK_MODULUS, np.arange(len(first))] = first
    forward: list[Floats] = [start]
    for place, cost in enumerate(middle, start=1):
        reached = _reached(forward[-1], cost)
        if place < len(middle):
            reached = np.take_along_axis(reached, _sources(place, kept[place]), axis=0)
        forward.append(reached)
    # The last character is the check: it must equal the residue so far.
    checks = np.flatnonzero(kept[-1] < DATA_VALUES)
    residues = kept[-1][checks]
    final = forward[-1][residues, checks] + last[checks]
    at = int(np.argmin(final))
    if not final[at] <= limit:
        return None
    path = _path_back(forward, middle, kept, int(checks[at]))
    values = tuple(int(kept[place][index]) for place, index in enumerate(path))
    backward = np.full_like(forward[-1], np.inf)
    backward[residues, checks] = last[checks]
    second = limit
    for place in range(len(middle), -1, -1):
        through = (forward[place] + backward).min(axis=0)
        through[path[place]] = np.inf
        second = min(second, float(through.min()))
        if place:
            if place < len(middle):
                backward = np.take_along_axis(backward, _sources(-place, kept[place]), axis=0)
            backward = _reached(backward, middle[place - 1].T)
    best = float(final[at])
    return Chain(values=values, cost=best, margin=second - best, passes=True)


def _reached(so_far: Floats, cost: Floats) -> Floats:
    """min over the predecessor: (residues, before) x (before, after) -> (residues, after)."""
    out = np.full((encoding.CHECK_MODULUS, cost.shape[1]), np.inf)
    for index in np.flatnonzero(np.isfinite(so_far).any(axis=0)):
        np.minimum(out, so_far[:, index, None] + cost[index][None], out=out)
    return out


def _sources(place: int, values: Ints) -> Ints:
    """The residue from which each residue is reached when place x value is added."""
    residues = np.arange(encoding.CHECK_MODULUS)[:, None]
    return np.asarray((residues - place * values[None]) % encoding.CHECK_MODULUS)


def _path_back(
    forward: list[Floats], middle: list[Floats], kept: list[Ints], check: int
) -> list[int]:
    """Of each place the index, among the values kept there, on the best run to a check."""
    residue = int(kept[-1][check])
    path = [check]
    for place in range(len(middle), 0, -1):
        if place < len(middle):
            residue = (residue - place * int(kept[place][path[-1]])) % encoding.CHECK_MODULUS
        path.append(int(np.argmin(forward[place - 1][residue] + middle[place - 1][:, path[-1]])))
    return path[::-1]


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

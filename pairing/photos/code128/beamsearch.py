"""First guesses: a symbol followed along the profile, character by character.

Several hypotheses grow side by side from every likely start pattern. Each step tries
the next cell a little earlier or later and a little narrower or wider than the last
one, so that perspective and creases may stretch a symbol; guesses that explain the
profile badly are dropped. A guess is complete where a stop pattern follows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pairing.photos.code128 import encoding
from pairing.photos.code128.beam import (
    CHARACTER_NATS,
    LAST_SPACES,
    NATS,
    UNSEEN,
    Beam,
    independent,
    initial_beam,
    read,
)
from pairing.photos.code128.blur import CELL, LEAD, SAMPLES
from pairing.photos.code128.scanline import ScanLine
from pairing.photos.code128.templates import Templates

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]

MOST_CHARACTERS = 48  # from start to check
_KEPT = 40  # hypotheses that go on side by side
_KEPT_OF_SCALE = 10
_STRETCHES = np.array([-0.09, -0.06, -0.03, 0.0, 0.03, 0.06, 0.09])
_STRETCH_COST = 150.0  # squared-error units a share^2
_FULL_TRUST = 0.999
_LEAST_SEEN = 5  # characters
_QUIET_MODULES = 2.0
_MOST_STOPPED = 2  # complete guesses of one number of characters
_MOST_STOP_ERROR = 12.0  # of about 60 samples


@dataclass(frozen=True, slots=True, kw_only=True)
class Hypothesis:
    """A complete guess.

    boundaries: columns where start, each character and stop begin, and the last bar ends.
    values: start, data and check values, unproven.
    score: nats a column: what the hypothesis leaves unexplained, and its free choices' price.
    """

    boundaries: tuple[float, ...]
    values: tuple[int, ...]
    score: float

    @property
    def x_columns(self) -> float:
        span = abs(self.boundaries[-1] - self.boundaries[0])
        return span / encoding.symbol_modules(len(self.values) + 1)


def hypotheses(
    line: ScanLine,
    *,
    least_x: float,
    expected: Templates,
    most_lost: float = np.inf,
    limit: int = 6,
) -> list[Hypothesis]:
    """The best complete guesses in both reading directions, best first.

    most_lost: a direction is given up where every guess leaves more than this share of the
        bars' variance unexplained after `_LEAST_SEEN` characters.
    """
    found = _searched(line, least_x, expected, most_lost)
    size = len(line.dark)
    found += [
        Hypothesis(
            boundaries=tuple(size - b for b in hypothesis.boundaries),
            values=hypothesis.values,
            score=hypothesis.score,
        )
        for hypothesis in _searched(line.reversed(), least_x, expected, most_lost)
    ]
    return _varied(sorted(found, key=lambda w: w.score), limit)


def _varied(ordered: list[Hypothesis], limit: int) -> list[Hypothesis]:
    kept: list[Hypothesis] = []
    for hypothesis in ordered:
        x = abs(hypothesis.boundaries[1] - hypothesis.boundaries[0]) / encoding.CHARACTER_MODULES
        if all(
            len(k.values) != len(hypothesis.values)
            or abs(k.boundaries[0] - hypothesis.boundaries[0]) > x
            or abs(k.boundaries[-1] - hypothesis.boundaries[-1]) > x
            for k in kept
        ):
            kept.append(hypothesis)
        if len(kept) == limit:
            break
    return kept


def _searched(
    line: ScanLine, least_x: float, expected: Templates, most_lost: float
) -> list[Hypothesis]:
    beam = initial_beam(line, least_x, expected)
    done: list[Hypothesis] = []
    for count in range(1, MOST_CHARACTERS + 1):
        if beam is None:
            break
        if count >= _LEAST_SEEN and _unexplained(line, beam, count) > most_lost:
            break
        if count >= 3:
            done += _stopped(line, beam, expected)
        beam = _stepped(line, beam, expected)
    return done


def _unexplained(line: ScanLine, beam: Beam, count: int) -> float:
    """The least share of the bars' variance that a guess of `count` characters leaves."""
    first, last = int(max(line.bars[0], 0)), int(line.bars[1])
    errors = (beam.cost - count * CHARACTER_NATS) / (NATS * independent(beam.x))
    return float(errors.min()) / (count * CELL * max(float(line.dark[first:last].var()), 1e-9))


def _stepped(line: ScanLine, beam: Beam, expected: Templates) -> Beam | None:
    width = beam.x[:, None] * (1 + _STRETCHES)
    ends = beam.at[:, None] + width * encoding.CHARACTER_MODULES
    costs = _cell_costs(line, beam, expected, width)
    costs[ends > line.bars[1] + 0.12 * line.length + 6] = np.inf
    # Of each guess and value only the best width goes on.
    way = np.argmin(costs, axis=1)
    least = np.take_along_axis(costs, way[:, None], axis=1)[:, 0]
    at = np.take_along_axis(ends, way, axis=1)
    # Guesses of different scale have walked different distances: nats a column decide.
    density = least / (at - beam.first[:, None])
    most = min(8 * _KEPT, density.size) - 1
    order = np.argpartition(density, most, axis=None)[: most + 1]
    order = order[np.argsort(density.ravel()[order])]
    source, value = np.unravel_index(order, least.shape)
    fine = np.isfinite(least[source, value])
    source, value = source[fine], value[fine]
    if not len(source):
        return None
    kept = _distinct(at[source, value], value, beam.x[source])
    source, value = source[kept], value[kept]
    chosen = way[source, value]
    return Beam(
        at=at[source, value],
        # The scale follows what the cell showed, half-way: a single cell is a poor ruler.
        x=0.5 * beam.x[source] + 0.5 * width[source, chosen],
        cost=least[source, value].astype(np.float64),
        space=LAST_SPACES[value],
        first=beam.first[source],
        past=[
            ((*beam.past[s][0], float(beam.at[s])), (*beam.past[s][1], int(v)))
            for s, v in zip(source, value, strict=True)
        ],
    )


def _cell_costs(line: ScanLine, beam: Beam, expected: Templates, width: Floats) -> Floats32:
    """Nats after one more cell: (guesses, widths, values)."""
    places = (np.arange(CELL) + 0.5) / SAMPLES
    seen, say = read(line, beam.at[:, None, None] + width[:, :, None] * places)
    weighted = say * seen
    rate = NATS * independent(beam.x)
    fixed = (weighted * seen).sum(axis=2) + UNSEEN * (1 - say).sum(axis=2)
    fixed += _STRETCH_COST * _STRETCHES**2
    fixed = fixed * rate[:, None] + beam.cost[:, None] + CHARACTER_NATS
    slope = (-2 * rate[:, None, None] * weighted).astype(np.float32)
    is_plain = bool(say.min() > _FULL_TRUST)
    scaled = None if is_plain else (rate[:, None, None] * say).astype(np.float32)
    costs = np.empty((*width.shape, expected.data.shape[1]), np.float32)
    for space in range(4):
        mine = np.flatnonzero(beam.space == space)
        if not len(mine):
            continue
        product = slope[mine] @ expected.data[space].T
        if scaled is None:
            product += rate[mine, None, None].astype(np.float32) * expected.power[space]
        else:
            product += scaled[mine] @ expected.squares[space].T
        costs[mine] = product
    costs += fixed[:, :, None].astype(np.float32)
    return costs


def _distinct(at: Floats, value: NDArray[np.int64], x: Floats) -> NDArray[np.int64]:
    """Guesses that end at one place with one value are one; the first is the best.

    Each class of scales keeps its own best, for early on the true scale may look poor.
    """
    cells = np.round(at / (0.25 * x)).astype(np.int64)
    _, firsts = np.unique(cells * len(encoding.WIDTHS) + value, return_index=True)
    firsts.sort()
    classes = np.round(np.log(x[firsts]) / 0.12).astype(np.int64)
    is_kept = np.zeros(len(firsts), bool)
    for one in set(classes.tolist()):
        is_kept[np.flatnonzero(classes == one)[:_KEPT_OF_SCALE]] = True
    return np.asarray(firsts[is_kept][:_KEPT])


def _stopped(line: ScanLine, beam: Beam, expected: Templates) -> list[Hypothesis]:
    """The two best guesses after which a stop pattern follows, as complete walks."""
    width = beam.x[:, None] * (1 + _STRETCHES)
    nearest = line.bars[1] - 0.35 * line.length - 6
    reach = np.flatnonzero(beam.at + width[:, -1] * encoding.STOP_MODULES >= nearest)
    if not len(reach):
        return []
    places = (np.arange(expected.stop.shape[1]) + 0.5) / SAMPLES
    seen, say = read(line, beam.at[reach, None, None] + width[reach, :, None] * places)
    say[:, :, -LEAD:] *= 0.5
    errors = (say * (seen - expected.stop[beam.space[reach]][:, None]) ** 2).sum(axis=2)
    errors += _STRETCH_COST * _STRETCHES**2 + UNSEEN * (1 - say[:, :, :-LEAD]).sum(axis=2)
    error = errors.min(axis=1)
    last = beam.at[reach] + width[reach, np.argmin(errors, axis=1)] * encoding.STOP_MODULES
    fine = (last >= nearest) & (error <= _MOST_STOP_ERROR)
    reach, error, last = reach[fine], error[fine], last[fine]
    first, x = beam.first[reach], beam.x[reach]
    # Bars that remain on either side need an explanation too.
    left_over = np.maximum(0.0, line.bars[1] - last) + np.maximum(0.0, first - line.bars[0])
    bare = np.maximum(0.0, left_over / x - _QUIET_MODULES)
    nats = beam.cost[reach] + NATS * independent(x) * (error + bare)
    scores = nats / (last - first)
    return [
        Hypothesis(
            boundaries=(*beam.past[reach[i]][0], float(beam.at[reach[i]]), float(last[i])),
            values=beam.past[reach[i]][1],
            score=float(scores[i]),
        )
        for i in np.argsort(scores, kind="stable")[:_MOST_STOPPED].tolist()
    ]


def nats_of(x: float) -> float:
    """Nats for a squared darkness error where a module has `x` columns."""
    return float(NATS * independent(np.array([x]))[0])

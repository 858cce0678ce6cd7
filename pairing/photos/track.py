"""First guesses: a symbol followed along the profile, character by character.

Several guesses walk side by side from every likely start pattern. Each step tries
the next cell a little earlier or later and a little narrower or wider than the last
one, so that perspective and creases may stretch a symbol; guesses that explain the
profile badly are dropped. A guess is complete where a stop pattern follows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pairing.photos import code128
from pairing.photos.likelihood import CELL, LEAD, SAMPLES, BlurModel

Floats = NDArray[np.float64]

MOST_CHARACTERS = 48  # from start to check
_KEPT = 40  # guesses that walk side by side
_KEPT_OF_SCALE = 10
_SHIFTS = np.array([-0.5, -0.25, 0.0, 0.25, 0.5])  # modules
_STRETCHES = np.array([-0.05, 0.0, 0.05])
_SHIFT_COST, _STRETCH_COST = 1.2, 250.0  # squared-error units a module^2, a share^2
_NATS = 1 / (2 * 0.15**2)  # nats a squared darkness error, at a usual misfit
_CHARACTER_NATS = float(np.log(103))  # the price of a free choice among 103 values
_SWING = 0.12  # least change of darkness that counts as an edge
_UNSEEN = 0.05  # squared error charged for a sample that shows nothing
_QUIET_MODULES = 2.0
_EDGES_TRIED = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """A complete guess.

    boundaries: columns where start, each character and stop begin, and the last bar ends.
    values: start, data and check values, unproven.
    score: nats a column: what the walk leaves unexplained, and its free choices' price.
    """

    boundaries: tuple[float, ...]
    values: tuple[int, ...]
    score: float

    @property
    def x_columns(self) -> float:
        span = abs(self.boundaries[-1] - self.boundaries[0])
        return span / code128.symbol_modules(len(self.values) + 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Templates:
    """What a walk expects to see, sample by sample."""

    starts: Floats  # (3, LEAD + CELL): quiet zone and start character
    data: Floats  # (4, 103, CELL): by the width of the space before
    stop: Floats  # (4, stop cells): as data, quiet zone included


def templates(model: BlurModel) -> Templates:
    """Expected darkness, with what is always true of neighbours: a bar follows."""
    after = model.whole[:103, :CELL].mean(axis=0)  # a successor's blur into this cell
    trailing = np.array([int(w[-1]) for w in code128.WIDTHS])
    before = np.stack(
        [model.whole[:103][trailing[:103] == s, 2 * CELL :].mean(axis=0) for s in (1, 2, 3, 4)]
    )
    own = model.whole[:, CELL : 2 * CELL]
    start = model.whole[
        [code128.START_A, code128.START_B, code128.START_C], CELL - LEAD : 2 * CELL
    ].copy()
    start[:, LEAD:] += after
    stop_size = code128.STOP_MODULES * SAMPLES + LEAD
    stop_own = np.zeros(stop_size)
    whole_stop = model.stop_whole[CELL : CELL + stop_size]
    stop_own[: len(whole_stop)] = whole_stop
    stop = np.repeat(stop_own[None], 4, axis=0)
    stop[:, :CELL] += before
    data = own[None, :103] + after[None, None] + before[:, None]
    return Templates(starts=start, data=data, stop=stop)


def walks(
    dark: Floats,
    trust: Floats,
    bars: tuple[float, float],
    *,
    least_x: float,
    expected: Templates,
    limit: int = 6,
) -> list[Walk]:
    """The best complete guesses in both reading directions, best first."""
    found: list[Walk] = []
    size = len(dark)
    for backwards in (False, True):
        line = dark[::-1] if backwards else dark
        say = trust[::-1] if backwards else trust
        ends = (size - bars[1], size - bars[0]) if backwards else bars
        for walk in _walked(line, say, ends, least_x, expected):
            boundaries = walk.boundaries
            if backwards:
                boundaries = tuple(size - b for b in boundaries)
            found.append(Walk(boundaries=boundaries, values=walk.values, score=walk.score))
    return _varied(sorted(found, key=lambda w: w.score), limit)


def _varied(ordered: list[Walk], limit: int) -> list[Walk]:
    kept: list[Walk] = []
    for walk in ordered:
        x = abs(walk.boundaries[1] - walk.boundaries[0]) / code128.CHARACTER_MODULES
        if all(
            len(k.values) != len(walk.values)
            or abs(k.boundaries[0] - walk.boundaries[0]) > x
            or abs(k.boundaries[-1] - walk.boundaries[-1]) > x
            for k in kept
        ):
            kept.append(walk)
        if len(kept) == limit:
            break
    return kept


@dataclass(slots=True)
class _Herd:
    """Guesses side by side: arrays over guesses, and each one's past."""

    at: Floats  # column where the next cell begins
    x: Floats  # columns a module
    cost: Floats  # nats so far
    space: NDArray[np.int64]  # width of the last space, less one
    past: list[tuple[tuple[float, ...], tuple[int, ...]]]


def _walked(
    dark: Floats, trust: Floats, bars: tuple[float, float], least_x: float, expected: Templates
) -> list[Walk]:
    herd = _started(dark, trust, bars, least_x, expected)
    done: list[Walk] = []
    length = bars[1] - bars[0]
    for count in range(1, MOST_CHARACTERS + 1):
        if herd is None:
            break
        if count >= 3:
            ended = _stopped(dark, trust, bars, herd, expected, count)
            done += sorted(ended, key=lambda w: w.score)[:2]
        herd = _stepped(dark, trust, bars[1] + 0.12 * length + 6, herd, expected)
    return done


def _edges(dark: Floats, near: float, reach: float) -> Floats:
    """Columns where darkness rises through one half, nearest to `near` first."""
    above = dark > 0.5
    steps = np.flatnonzero(above[1:] & ~above[:-1])
    steps = steps[np.abs(steps + 0.5 - near) <= reach]
    places = steps + (0.5 - dark[steps]) / (dark[steps + 1] - dark[steps]) + 0.5
    order = np.argsort(np.abs(places - near))[:_EDGES_TRIED]
    return np.asarray(places[order], dtype=np.float64)


def _read(line: Floats, columns: Floats) -> Floats:
    return np.interp(columns.ravel() - 0.5, np.arange(len(line)), line).reshape(columns.shape)


def _started(
    dark: Floats, trust: Floats, bars: tuple[float, float], least_x: float, expected: Templates
) -> _Herd | None:
    length = bars[1] - bars[0]
    edges = _edges(dark, bars[0], 0.13 * length + 10)
    if not len(edges):
        return None
    narrowest, widest = _likely_x(dark, bars)
    narrowest = max(narrowest, least_x)
    if widest <= narrowest:
        return None
    count = int(np.log(widest / narrowest) / 0.05) + 1
    widths = narrowest * np.exp(0.05 * np.arange(count + 1))
    nudges = np.array([-0.3, 0.0, 0.3])
    at, x, nudge = (g.ravel() for g in np.meshgrid(edges, widths, nudges, indexing="ij"))
    at = at + nudge * x
    places = (np.arange(LEAD + CELL) + 0.5 - LEAD) / SAMPLES
    columns = at[:, None] + x[:, None] * places
    seen, say = _read(dark, columns), _read(trust, columns)
    say[:, :LEAD] *= 0.5
    errors = np.stack([(say * (seen - t) ** 2).sum(axis=1) for t in expected.starts], axis=1)
    errors += _UNSEEN * (1 - say[:, LEAD:]).sum(axis=1)[:, None]
    costs = errors * (_NATS * _independent(x))[:, None] + _CHARACTER_NATS
    flat = np.argsort(costs / x[:, None], axis=None)
    guess, which = np.unravel_index(flat, costs.shape)
    chosen = _spread_out(at[guess], x[guess], 3 * _KEPT)
    guess, which = guess[chosen], which[chosen]
    values = which + code128.START_A
    return _Herd(
        at=at[guess] + code128.CHARACTER_MODULES * x[guess],
        x=x[guess],
        cost=costs[guess, which],
        space=np.array([int(code128.WIDTHS[v][-1]) - 1 for v in values]),
        past=[((float(a),), (int(v),)) for a, v in zip(at[guess], values, strict=True)],
    )


def _likely_x(dark: Floats, bars: tuple[float, float]) -> tuple[float, float]:
    """Bounds for X from the number of swings between dark and light.

    A symbol of n characters with its stop has 6 n + 7 edges on 11 n + 13 modules.
    Blur hides some of them, noise and print around add some.
    """
    first, last = int(max(bars[0], 0)), int(min(bars[1], len(dark)))
    line = np.convolve(dark[first:last], [0.25, 0.5, 0.25], "valid")
    swings, level, rising = 0, line[0] if len(line) else 0.0, True
    for value in line.tolist():
        if rising == (value > level):
            level = value
        elif abs(value - level) > _SWING:
            swings, level, rising = swings + 1, value, not rising
    modules = max(swings, 8) * code128.CHARACTER_MODULES / 6
    length = bars[1] - bars[0]
    return length / (modules * 1.75), length / (modules * 0.75)


def _spread_out(at: Floats, x: Floats, limit: int) -> list[int]:
    """Of guesses in order of merit, those that differ from the better ones."""
    kept: list[int] = []
    for i in range(len(at)):
        if all(abs(at[i] - at[k]) > 0.2 * x[i] or abs(x[i] / x[k] - 1) > 0.03 for k in kept):
            kept.append(i)
            if len(kept) == limit:
                break
        if i > 12 * limit:
            break
    return kept


def _stepped(
    dark: Floats, trust: Floats, end: float, herd: _Herd, expected: Templates
) -> _Herd | None:
    shift, stretch = (g.ravel() for g in np.meshgrid(_SHIFTS, _STRETCHES, indexing="ij"))
    x = herd.x[:, None] * (1 + stretch)
    # A shift is spread over the cell: its end moves, its beginning is already fixed.
    width = x * (1 + shift / code128.CHARACTER_MODULES)
    places = (np.arange(CELL) + 0.5) / SAMPLES
    columns = herd.at[:, None, None] + width[:, :, None] * places
    seen, say = _read(dark, columns), _read(trust, columns)
    wseen = say * seen
    square = (wseen * seen).sum(axis=2)
    costs = np.empty((*square.shape, 103))
    for space in range(4):
        mine = herd.space == space
        if mine.any():
            t = expected.data[space]
            costs[mine] = square[mine][:, :, None] - 2 * wseen[mine] @ t.T + say[mine] @ (t * t).T
    costs += (_SHIFT_COST * shift**2 + _STRETCH_COST * stretch**2)[None, :, None]
    costs += _UNSEEN * (1 - say).sum(axis=2)[:, :, None]
    costs *= (_NATS * _independent(herd.x))[:, None, None]
    costs += herd.cost[:, None, None] + _CHARACTER_NATS
    costs[(width * code128.CHARACTER_MODULES + herd.at[:, None]) > end] = np.inf
    # Of each guess and value only the best place goes on.
    way = np.argmin(costs, axis=1)
    least = np.take_along_axis(costs, way[:, None], axis=1)[:, 0]
    # Guesses of different scale have walked different distances: nats a column decide.
    ends = herd.at[:, None] + width[np.arange(len(way))[:, None], way] * code128.CHARACTER_MODULES
    density = least / (ends - np.array([p[0][0] for p in herd.past])[:, None])
    order = np.argpartition(density, min(8 * _KEPT, density.size - 1), axis=None)[: 8 * _KEPT]
    order = order[np.argsort(density.ravel()[order])]
    source, value = np.unravel_index(order, least.shape)
    fine = np.isfinite(least[source, value])
    source, value = source[fine], value[fine]
    if not len(source):
        return None
    chosen = way[source, value]
    at = herd.at[source] + width[source, chosen] * code128.CHARACTER_MODULES
    kept = _distinct(at, value, herd.x[source], _scale_class(herd.x[source]))
    source, value, chosen, at = source[kept], value[kept], chosen[kept], at[kept]
    # The scale follows what the cell showed, half-way: a single cell is a poor ruler.
    new_x = 0.5 * herd.x[source] + 0.5 * width[source, chosen]
    return _Herd(
        at=at,
        x=new_x,
        cost=least[source, value],
        space=np.array([int(code128.WIDTHS[v][-1]) - 1 for v in value]),
        past=[
            (
                (*herd.past[s][0], float(herd.at[s])),
                (*herd.past[s][1], int(v)),
            )
            for s, v in zip(source, value, strict=True)
        ],
    )


def _scale_class(x: Floats) -> NDArray[np.int64]:
    return np.round(np.log(x) / 0.12).astype(np.int64)


def _distinct(
    at: Floats, value: NDArray[np.int64], x: Floats, scale_class: NDArray[np.int64]
) -> list[int]:
    """Guesses that end at one place with one value are one; the first is the best.

    Each class of scales keeps its own best, for early on the true scale may look poor.
    """
    seen: set[tuple[int, int]] = set()
    count: dict[int, int] = {}
    kept: list[int] = []
    cells = np.round(at / (0.25 * x)).astype(np.int64)
    for i in range(len(at)):
        key = (int(value[i]), int(cells[i]))
        mine = int(scale_class[i])
        if key in seen or count.get(mine, 0) >= _KEPT_OF_SCALE:
            continue
        seen.add(key)
        count[mine] = count.get(mine, 0) + 1
        kept.append(i)
        if len(kept) == _KEPT:
            break
    return kept


def _stopped(
    dark: Floats,
    trust: Floats,
    bars: tuple[float, float],
    herd: _Herd,
    expected: Templates,
    count: int,
) -> list[Walk]:
    places = (np.arange(expected.stop.shape[1]) + 0.5) / SAMPLES
    width = herd.x[:, None] * (1 + _STRETCHES)
    columns = herd.at[:, None, None] + width[:, :, None] * places
    seen, say = _read(dark, columns), _read(trust, columns)
    say[:, :, -LEAD:] *= 0.5
    errors = (say * (seen - expected.stop[herd.space][:, None]) ** 2).sum(axis=2)
    errors += _STRETCH_COST * _STRETCHES**2
    errors += _UNSEEN * (1 - say[:, :, :-LEAD]).sum(axis=2)
    best = np.argmin(errors, axis=1)
    out = []
    length = bars[1] - bars[0]
    for i, which in enumerate(best):
        last = float(herd.at[i] + width[i, which] * code128.STOP_MODULES)
        if last < bars[1] - 0.35 * length - 6 or errors[i, which] > 12:
            continue
        first = herd.past[i][0][0]
        # Bars left over on either side want an explanation too.
        unexplained = max(0.0, bars[1] - last) + max(0.0, first - bars[0])
        bare = max(0.0, unexplained / herd.x[i] - _QUIET_MODULES)
        scale = _NATS * _independent(herd.x[i : i + 1])[0]
        nats = float(herd.cost[i]) + scale * (float(errors[i, which]) + bare)
        score = nats / (last - first)
        out.append(
            Walk(
                boundaries=(*herd.past[i][0], float(herd.at[i]), last),
                values=herd.past[i][1],
                score=score,
            )
        )
    return out


def _independent(x: Floats) -> Floats:
    """Share of a module's samples that are measurements of their own."""
    return np.minimum(1.0, x / SAMPLES)

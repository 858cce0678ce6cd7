"""The one assignment of a lot, and by how much each of its pairs is better than the best way
to do without it."""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import (
    bellman_ford,
    connected_components,
    dijkstra,
    min_weight_full_bipartite_matching,
)

MOST_MARGIN = 30.0
"""Margins above this are all the same (1 in 10^13)."""

LARGEST = 20_000
"""Cards that hang together; beyond it the time for margins grows out of hand, and these cards
are left without partners."""

_LIFT = 1e4
"""Added to every gain: the sparse solver takes a 0 for an edge that is not there."""
_AT_ONCE = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """A possible pair. gain: log odds against both sides being without a partner; pairs that
    gain nothing are never made."""

    card: int
    label: int
    gain: float


class Edges:
    """Possible pairs, by columns: 100,000 cards have two million, of which few ever count."""

    def __init__(self) -> None:
        self._cards, self._labels, self._gains = array("i"), array("i"), array("d")

    def add(self, edges: Iterable[Edge]) -> None:
        """Keep these too."""
        for one in edges:
            self._cards.append(one.card)
            self._labels.append(one.label)
            self._gains.append(one.gain)

    def of(self, cards: Iterable[int]) -> Iterator[Edge]:
        """Those of these cards, as they are."""
        own = np.isin(np.frombuffer(self._cards, np.intc), np.fromiter(cards, np.intc))
        for at in np.flatnonzero(own):
            yield Edge(card=self._cards[at], label=self._labels[at], gain=self._gains[at])

    def above(self, prior: float) -> list[Edge]:
        """Those that gain something with this added to each."""
        gains = np.frombuffer(self._gains, np.float64) + prior
        return [
            Edge(card=self._cards[at], label=self._labels[at], gain=float(gains[at]))
            for at in np.flatnonzero(gains > 0)
        ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """A pair of the best assignment. margin: what the best one without this pair gains less,
    at most MOST_MARGIN. runner_up: the card's partner in that one, None for none."""

    card: int
    label: int
    gain: float
    margin: float
    runner_up: int | None


def assigned(edges: Sequence[Edge]) -> Iterator[Pair]:
    """The pairs that together gain most, each card and each label in at most one."""
    for group in _groups([edge for edge in edges if edge.gain > 0]):
        yield from _of_group(group)


def pairs_made(edges: Sequence[Edge]) -> int:
    """How many pairs those are; without their margins, which cost most."""
    made = 0
    for group in _groups([edge for edge in edges if edge.gain > 0]):
        if len(group) == 1:
            made += 1
            continue
        rows, columns = _places(group)
        if len(rows) <= LARGEST:
            made += len(_best(_gains(group, rows, columns), len(rows), len(columns)))
    return made


def _groups(edges: Sequence[Edge]) -> list[list[Edge]]:
    """Edges that hang together: nothing outside a group bears on it."""
    if not edges:
        return []
    cards = 1 + max(edge.card for edge in edges)
    size = cards + 1 + max(edge.label for edge in edges)
    rows = [edge.card for edge in edges]
    columns = [cards + edge.label for edge in edges]
    graph = _sparse(np.ones(len(edges)), rows, columns, (size, size))
    _, names = connected_components(graph, directed=False)
    groups: dict[int, list[Edge]] = {}
    for edge in edges:
        groups.setdefault(int(names[edge.card]), []).append(edge)
    return list(groups.values())


def _of_group(group: Sequence[Edge]) -> Iterator[Pair]:
    if len(group) == 1:  # as most are: without it both are alone
        (one,) = group
        lost = min(MOST_MARGIN, one.gain)
        yield Pair(card=one.card, label=one.label, gain=one.gain, margin=lost, runner_up=None)
        return
    rows, columns = _places(group)
    if len(rows) > LARGEST:
        return
    gains = _gains(group, rows, columns)
    chosen = _best(gains, len(rows), len(columns))
    cards, labels = list(rows), list(columns)
    margins = _margins(gains, chosen, len(rows), len(columns))
    for (row, column), (margin, other) in margins.items():
        yield Pair(
            card=cards[row],
            label=labels[column],
            gain=gains[row, column],
            margin=margin,
            runner_up=labels[other] if other is not None else None,
        )


def _places(group: Sequence[Edge]) -> tuple[dict[int, int], dict[int, int]]:
    """Card to row, label to column."""
    rows = {card: row for row, card in enumerate(sorted({edge.card for edge in group}))}
    columns = {label: at for at, label in enumerate(sorted({edge.label for edge in group}))}
    return rows, columns


def _gains(
    group: Sequence[Edge], rows: dict[int, int], columns: dict[int, int]
) -> dict[tuple[int, int], float]:
    return {(rows[edge.card], columns[edge.label]): edge.gain for edge in group}


def _best(gains: dict[tuple[int, int], float], rows: int, columns: int) -> dict[int, int]:
    """Row to column; rows without a partner are left out. Each row has a column of its own
    as well, which means none."""
    places = [*gains, *((row, columns + row) for row in range(rows))]
    values = [_LIFT + gain for gain in gains.values()] + [_LIFT] * rows
    starts, ends = [row for row, _ in places], [at for _, at in places]
    matrix = _sparse(values, starts, ends, (rows, columns + rows))
    found = min_weight_full_bipartite_matching(matrix, maximize=True)
    return {int(row): int(at) for row, at in zip(*found, strict=True) if at < columns}


def _sparse(
    values: Sequence[float] | NDArray[Any],
    rows: Sequence[int] | NDArray[Any],
    columns: Sequence[int] | NDArray[Any],
    shape: tuple[int, int],
) -> csr_array:
    """A sparse matrix with places of 32 bits: before scipy 1.15 the graph routines take no others,
    and `connected_components` of 1.11.1 goes on with wrong groups instead of failing."""
    places = np.asarray(rows, np.int32), np.asarray(columns, np.int32)
    return coo_array((values, places), shape=shape).tocsr()


def _margins(
    gains: dict[tuple[int, int], float], chosen: dict[int, int], rows: int, columns: int
) -> dict[tuple[int, int], tuple[float, int | None]]:
    """For each chosen pair what is lost without it, and the row's column then.

    Taking a pair apart sends its row on the cheapest way through the others' changes to its
    column (Ahuja, Magnanti and Orlin 1993, Network Flows, chapter 12: residual network). One
    node means "none", so that a row may end there and a column be left there.
    """
    none = rows + columns
    arcs: list[tuple[int, int, float]] = []
    held = set(chosen.values())
    for (row, column), gain in gains.items():
        if chosen.get(row) == column:
            arcs.append((rows + column, row, gain))
        else:
            arcs.append((row, rows + column, -gain))
    arcs += [(row, none, 0.0) if row in chosen else (none, row, 0.0) for row in range(rows)]
    arcs += [
        (none, rows + at, 0.0) if at in held else (rows + at, none, 0.0) for at in range(columns)
    ]
    start = np.array([arc[0] for arc in arcs])
    end = np.array([arc[1] for arc in arcs])
    cost = np.array([arc[2] for arc in arcs])
    size = none + 1
    # No arc may weigh 0, which the graph routines take for none; far below what counts.
    height = bellman_ford(_sparse(cost + 1e-12, start, end, (size, size)), indices=none)
    reduced = np.maximum(cost + height[start] - height[end], 0) + 1e-12
    graph = _sparse(reduced, start, end, (size, size))
    found: dict[tuple[int, int], tuple[float, int | None]] = {}
    pairs = list(chosen.items())
    for first in range(0, len(pairs), _AT_ONCE):
        some = pairs[first : first + _AT_ONCE]
        ways, before = dijkstra(
            graph, indices=[row for row, _ in some], return_predecessors=True, limit=MOST_MARGIN
        )
        for (row, column), way, back in zip(some, ways, before, strict=True):
            found[row, column] = _loss(
                (row, column, gains[row, column]), way, back, height, (rows, columns)
            )
    return found


def _loss(
    pair: tuple[int, int, float],
    way: NDArray[Any],
    back: NDArray[Any],
    height: NDArray[Any],
    shape: tuple[int, int],
) -> tuple[float, int | None]:
    """One step of `_margins`. shape: rows, columns."""
    (row, column, gain), (rows, columns) = pair, shape
    target = rows + column
    if not np.isfinite(way[target]):
        return MOST_MARGIN, None
    lost = gain + float(way[target]) - float(height[row]) + float(height[target])
    step = target
    while int(back[step]) != row:
        step = int(back[step])
    is_label = rows <= step < rows + columns
    return min(MOST_MARGIN, max(0.0, lost)), step - rows if is_label else None

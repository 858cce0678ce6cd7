"""Guesses that walk a profile side by side, and the first cells they may begin with."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pairing.photos.code128 import encoding
from pairing.photos.code128.blur import CELL, LEAD, SAMPLES
from pairing.photos.code128.scanline import ScanLine
from pairing.photos.code128.templates import Templates

Floats = NDArray[np.float64]

NATS = 1 / (2 * 0.15**2)  # nats a squared darkness error, at a usual misfit
CHARACTER_NATS = float(np.log(103))  # the price of a free choice among 103 values
UNSEEN = 0.05  # squared error charged for a sample that shows nothing
LAST_SPACES = np.array([int(w[-1]) - 1 for w in encoding.WIDTHS])
_STARTED = 80


@dataclass(slots=True)
class Beam:
    """Guesses side by side: arrays over guesses, and each one's past."""

    at: Floats  # column where the next cell begins
    x: Floats  # columns a module
    cost: Floats  # nats so far
    space: NDArray[np.int64]  # width of the last space, less one
    first: Floats  # column of the first bar
    past: list[tuple[tuple[float, ...], tuple[int, ...]]]


def initial_beam(line: ScanLine, least_x: float, expected: Templates) -> Beam | None:
    """Start patterns near the bars' beginning, the best by nats a column; None without edges."""
    edges = line.edges()
    narrowest, widest = line.likely_x()
    narrowest = max(narrowest, least_x)
    if not len(edges) or widest <= narrowest:
        return None
    count = int(np.log(widest / narrowest) / 0.05) + 1
    widths = narrowest * np.exp(0.05 * np.arange(count + 1))
    nudges = np.array([-0.3, 0.0, 0.3])
    at, x, nudge = (g.ravel() for g in np.meshgrid(edges, widths, nudges, indexing="ij"))
    at = at + nudge * x
    places = (np.arange(LEAD + CELL) + 0.5 - LEAD) / SAMPLES
    seen, say = read(line, at[:, None] + x[:, None] * places)
    say[:, :LEAD] *= 0.5
    errors = np.stack([(say * (seen - t) ** 2).sum(axis=1) for t in expected.starts], axis=1)
    errors += UNSEEN * (1 - say[:, LEAD:]).sum(axis=1)[:, None]
    costs = errors * (NATS * independent(x))[:, None] + CHARACTER_NATS
    order = np.argsort(costs / x[:, None], axis=None)
    guess, which = np.unravel_index(order, costs.shape)
    chosen = _spread_out(at[guess], x[guess], _STARTED)
    guess, which = guess[chosen], which[chosen]
    values = which + encoding.START_A
    return Beam(
        at=at[guess] + encoding.CHARACTER_MODULES * x[guess],
        x=x[guess],
        cost=costs[guess, which],
        space=LAST_SPACES[values],
        first=at[guess],
        past=[((float(a),), (int(v),)) for a, v in zip(at[guess], values, strict=True)],
    )


def _spread_out(at: Floats, x: Floats, limit: int) -> list[int]:
    """Of guesses in order of merit, those that differ from the better ones."""
    keys = zip(
        np.round(at / (0.25 * x)).astype(np.int64).tolist(),
        np.round(np.log(x) / 0.05).astype(np.int64).tolist(),
        strict=True,
    )
    seen: set[tuple[int, int]] = set()
    kept: list[int] = []
    for i, key in enumerate(keys):
        if key not in seen:
            seen.add(key)
            kept.append(i)
            if len(kept) == limit:
                break
    return kept


def read(line: ScanLine, columns: Floats) -> tuple[Floats, Floats]:
    """Darkness and trust at columns, between pixels and at the nearest one."""
    last = len(line.dark) - 1
    places = np.clip(columns - 0.5, 0, last)
    whole = np.minimum(places.astype(np.int64), last - 1)
    part = places - whole
    low = line.dark[whole]
    return low + part * (line.dark[whole + 1] - low), line.trust[whole]


def independent(x: Floats) -> Floats:
    """Share of a module's samples that are measurements of their own."""
    return np.minimum(1.0, x / SAMPLES)

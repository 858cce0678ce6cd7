"""Edges of paper that was stuck on: shadows, and where one kind of paper ends."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pairing.photos.written.frame import Mark, darkness_of
from pairing.photos.written.ink_rows import fitted, is_even, middles, tall_of
from pairing.photos.written.plane import PX_PER_MM

EDGE_MM, _LONG = 0.45, 2.5
"""A strip's edge throws a shadow so wide at most, and so many times as long."""
_OFF_MM = (0.4, 0.8)
"""So far off its two sides are looked at: a letter beside it is not paper."""
_STEP, _SHARE = 5.0, 0.8
"""By how many gray levels the paper on its two sides differs, along so much of it. A pen's stroke
has the same paper on both sides."""
_NARROW, _APART, _TALLER, _PALER = 0.25, 1.0, 1.15, 0.4
"""A strip's side stands so far from its print, in heights of its characters, is so many times as
tall, and has less than this share of their darkness. Measured on two strips of
`tests.benchmarks.lost` (seeds 30 and 38): 0.24 and 0.30."""


def is_edge(soft: NDArray[np.float32], pixels: NDArray[np.bool_], mark: Mark) -> bool:
    """Whether a thin mark lies between two kinds of paper, or lies level like a strip's shadow.
    soft: the plane; pixels: the mark's own in its rectangle."""
    left, top, wide, high = (int(v) for v in mark)
    if max(wide, high) < _LONG * min(wide, high):
        return False
    if wide > high and high < EDGE_MM * PX_PER_MM:
        return True
    if high > wide:
        soft, pixels, left, top = soft.T, pixels.T, top, left
    there = np.flatnonzero(pixels.any(0))
    first = top + pixels.argmax(0)[there]
    last = top + len(pixels) - 1 - pixels[::-1].argmax(0)[there]
    return _is_step(soft, left + there, first, last)


def _is_step(
    soft: NDArray[np.float32],
    columns: NDArray[np.intp],
    first: NDArray[np.intp],
    last: NDArray[np.intp],
) -> bool:
    """Whether the paper above rows `first` differs from that below rows `last`, one way."""
    lowest = soft.shape[0] - 1
    steps = []
    for off in (round(mm * PX_PER_MM) for mm in _OFF_MM):
        below = soft[np.clip(last + off, 0, lowest), columns]
        steps.append(below - soft[np.clip(first - off, 0, lowest), columns])
    middle = float(np.median(steps[0]))
    one_way = np.stack(steps) * np.sign(middle) > _STEP / 2
    return abs(middle) > _STEP and float(one_way.all(0).mean()) > _SHARE


def without_sides(gray: NDArray[np.uint8], row: list[Mark]) -> list[Mark]:
    """A printed line without the sides of the strip that it is on: they are far paler than its
    characters, taller, and stand apart. gray: the plane."""
    ends = [m for m in {min(row), max(row)} if m[2] < _NARROW * m[3]]
    rest = [m for m in row if not any(m is one for one in ends)]
    if not ends or len(rest) < 3 or not is_even(rest, fitted(*middles(rest))[0]):
        return row
    drop, tall = darkness_of(gray), tall_of(rest)
    usual = float(np.median([_darkness(drop, m) for m in rest]))
    first, last = min(m[0] for m in rest), max(m[0] + m[2] for m in rest)

    def is_side(mark: Mark) -> bool:
        is_apart = max(first - mark[0] - mark[2], mark[0] - last) > _APART * tall
        is_tall = mark[3] > _TALLER * tall
        return is_apart and is_tall and _darkness(drop, mark) < _PALER * usual

    return [m for m in row if not (any(m is one for one in ends) and is_side(m))]


def _darkness(drop: NDArray[np.float32], mark: Mark) -> float:
    left, top, wide, high = (int(v) for v in mark)
    return float(np.percentile(drop[top : top + high, left : left + wide], 90))

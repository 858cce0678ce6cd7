"""Edges of paper that was stuck on: shadows, and where one kind of paper ends."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pairing.photos.written.frame import Mark
from pairing.photos.written.plane import PX_PER_MM

EDGE_MM, _LONG = 0.45, 2.5
"""A strip's edge throws a shadow so wide at most, and so many times as long."""
_OFF_MM = (0.4, 0.8)
"""So far off its two sides are looked at: a letter beside it is not paper."""
_STEP, _SHARE = 5.0, 0.8
"""By how many gray levels the paper on its two sides differs, along so much of it. A pen's stroke
has the same paper on both sides."""


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

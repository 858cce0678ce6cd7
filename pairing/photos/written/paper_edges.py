"""Edges of paper that was stuck on: shadows, and where one kind of paper ends."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pairing.photos.written.frame import Mark
from pairing.photos.written.plane import PX_PER_MM

EDGE_MM, _LONG = 0.45, 2.5
"""A strip's edge throws a shadow so wide at most, and so many times as long."""
_OFF_MM = 0.4
_STEP, _SHARE = 5.0, 0.8
"""By how many grey levels the paper on its two sides differs, along so much of it. A pen's stroke
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
    off = round(_OFF_MM * PX_PER_MM)
    first = top + pixels.argmax(0)[there] - off
    last = top + len(pixels) - 1 - pixels[::-1].argmax(0)[there] + off
    lowest = soft.shape[0] - 1
    step = (
        soft[np.clip(last, 0, lowest), left + there] - soft[np.clip(first, 0, lowest), left + there]
    )
    middle = float(np.median(step))
    is_one_way = float(np.mean(step * np.sign(middle) > _STEP / 2))
    return abs(middle) > _STEP and is_one_way > _SHARE

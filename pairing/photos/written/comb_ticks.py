"""A comb's dividing lines: whole, or what shows of them above or below a strip pasted over them."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.written.frame import Mark
from pairing.photos.written.plane import PX_PER_MM

_WIDE_MM, _HIGH_MM = 0.75, 3.2
_UPRIGHT = 1.25
"""A row of dots below a number takes it back, and is no comb."""
_LEVEL_MM = 0.5
_PITCH_MM = (3.0, 8.0)
"""A comb's cells are so wide. Common practice, no source."""
_FEWEST_LINES, _ENDS_MM, _IN_PLACE_MM = 6, 1.5, 0.4
"""So many whole ones, whose ends lie so near to those of the next; and how near to where it should
stand one is the comb's."""
_FEWEST, _OFF = 5, 0.09
"""So many stand at equal distances, to within so much of one: no pen draws five of them so."""


def comb_ticks(marks: Sequence[Mark], slope: float) -> list[Mark]:
    """Those of the marks that are thin, upright, and at equal distances on one level. slope: of the
    line that they lie along. marks: in a plane of `plane.PX_PER_MM`."""
    thin = [
        mark for mark in marks
        if mark[2] < _WIDE_MM * PX_PER_MM and _UPRIGHT * mark[2] < mark[3] < _HIGH_MM * PX_PER_MM
    ]  # fmt: skip
    found: list[Mark] = []
    while thin:
        level = _level(thin[0], slope)
        group = [one for one in thin if abs(_level(one, slope) - level) < _LEVEL_MM * PX_PER_MM]
        thin = [one for one in thin if not any(one is other for other in group)]
        found += evenly(sorted(group))
    return found


def comb_lines(upright: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Those of the upright rules (255, in a plane of `plane.PX_PER_MM`) that divide a comb: as high
    as one another, on one level and at equal distances; where a digit joins one, what of it lies
    in its place."""
    count, _, stats, _ = cv2.connectedComponentsWithStats(upright)
    thin = [
        (float(left), float(top), float(wide), float(high))
        for left, top, wide, high, _ in stats[1:count].tolist()
        if wide < _WIDE_MM * PX_PER_MM
    ]
    place = np.zeros_like(upright)
    while len(thin) >= _FEWEST_LINES:
        _, top, _, high = thin[0]
        group = [one for one in thin if _ends_off(one, top, top + high) < _ENDS_MM * PX_PER_MM]
        thin = [one for one in thin if not any(one is other for other in group)]
        even = evenly(sorted(group))
        if len(even) >= _FEWEST_LINES:
            reach = round(_IN_PLACE_MM * PX_PER_MM)
            first, last = (round(float(np.median(side))) for side in zip(
                *((one[1], one[1] + one[3]) for one in even), strict=True
            ))  # fmt: skip
            for x in _lattice(even):
                place[first - reach : last + reach, x - reach : x + reach + 1] = 255
    return np.asarray(upright & place, np.uint8)


def _ends_off(mark: Mark, top: float, foot: float) -> float:
    return max(abs(mark[1] - top), abs(mark[1] + mark[3] - foot))


def _lattice(even: list[Mark]) -> list[int]:
    """Where lines stand, from the first to the last that were found, px."""
    at = np.array([mark[0] + mark[2] / 2 for mark in even])
    pitch = float(np.median(np.diff(at)))
    many = np.round((at - at[0]) / pitch)
    slope, first = np.polyfit(many, at, 1)
    return [round(first + slope * step) for step in range(int(many[-1]) + 1)]


def _level(mark: Mark, slope: float) -> float:
    return mark[1] + mark[3] / 2 - slope * (mark[0] + mark[2] / 2)


def evenly(group: list[Mark]) -> list[Mark]:
    """The marks of a level that stand a whole number of pitches from the next one."""
    if len(group) < _FEWEST:
        return []
    steps = np.diff([mark[0] + mark[2] / 2 for mark in group])
    low, most = (side * PX_PER_MM for side in _PITCH_MM)
    single = steps[(steps > low) & (steps < most)]
    if len(single) < _FEWEST - 2:
        return []
    pitch = float(np.median(single))
    many = np.maximum(1, np.round(steps / pitch))
    is_even = np.abs(steps - many * pitch) < _OFF * pitch * np.sqrt(many)
    kept = np.append(is_even, False) | np.append(False, is_even)
    even = [mark for mark, keep in zip(group, kept, strict=True) if keep]
    return even if len(even) >= _FEWEST else []

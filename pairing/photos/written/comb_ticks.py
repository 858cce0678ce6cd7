"""A comb's dividing lines: whole, or what shows of them above or below a strip pasted over them."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.written.frame import Mark
from pairing.photos.written.plane import PX_PER_MM

_WIDE_MM, _HIGH_MM = 0.75, 4.3
_UPRIGHT = 1.25
"""A row of dots below a number takes it back, and is no comb."""
_LEVEL_MM = 0.5
_PITCH_MM = (3.0, 8.0)
"""A comb's cells are so wide. Common practice, no source."""
_FEWEST_LINES, _ENDS_MM, _IN_PLACE_MM = 6, 1.5, 0.4
"""So many whole ones, whose ends lie so near to those of the next; and how near to where it should
stand one is the comb's."""
_LEANS_MM = 0.6
"""The same for the lower end of one whose upper end is covered: a comb leans against a strip."""
_FEWEST_BEYOND = 3
"""So many in their places beyond the others, and nothing else on their level, are the comb's."""
_FEWEST, _OFF = 5, 0.09
"""So many stand at equal distances, to within so much of one: no pen draws five of them so."""


def comb_ticks(marks: Sequence[Mark], slope: float) -> list[Mark]:
    """Those of the marks that are thin, upright, and at equal distances on one level. slope: of the
    line that they lie along. marks: in a plane of `plane.PX_PER_MM`."""
    thin = [
        mark for mark in marks
        if mark[2] < _WIDE_MM * PX_PER_MM and _UPRIGHT * mark[2] < mark[3] < _HIGH_MM * PX_PER_MM
    ]  # fmt: skip
    combs: list[list[Mark]] = []
    others: list[list[Mark]] = []
    while thin:
        level = _level(thin[0], slope)
        group = [one for one in thin if abs(_level(one, slope) - level) < _LEVEL_MM * PX_PER_MM]
        thin = [one for one in thin if not any(one is other for other in group)]
        even = evenly(sorted(group))
        combs += [even] if even else []
        others.append([one for one in group if not any(one is tick for tick in even)])
    if not combs:
        return []
    # Of a line that a strip covers less may show than of its neighbors: it stands in its place.
    longest = max(combs, key=len)
    found = [mark for even in combs for mark in even]
    for group in others:
        placed = [one for one in group if _is_in_place(one, longest)]
        is_comb = len(placed) == len(group) >= _FEWEST_BEYOND
        found += [one for one in placed if is_comb or longest[0][0] < one[0] < longest[-1][0]]
    return found


def _is_in_place(mark: Mark, comb: list[Mark]) -> bool:
    """Whether a mark stands where the lines of a comb do, or would if there were more of them."""
    pitch, first = _spaced(comb)
    steps = (mark[0] + mark[2] / 2 - first) / pitch
    return bool(abs(steps - round(steps)) * pitch < _LEANS_MM * PX_PER_MM)


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
    pitch, first = _spaced(even)
    last = round((even[-1][0] + even[-1][2] / 2 - first) / pitch)
    return [round(first + pitch * step) for step in range(last + 1)]


def _spaced(even: list[Mark]) -> tuple[float, float]:
    """How far evenly spaced lines are apart, and where the first one stands, px."""
    at = np.array([mark[0] + mark[2] / 2 for mark in even])
    pitch = float(np.median(np.diff(at)))
    pitch, first = np.polyfit(np.round((at - at[0]) / pitch), at, 1)
    return float(pitch), float(first)


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

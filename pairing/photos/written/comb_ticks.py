"""What shows of a comb's dividing lines above or below a strip that was pasted over them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pairing.photos.written.frame import Mark
from pairing.photos.written.plane import PX_PER_MM

_WIDE_MM, _HIGH_MM = 0.75, 3.2
_UPRIGHT = 1.25
"""A row of dots below a number takes it back, and is no comb."""
_LEVEL_MM = 0.5
_PITCH_MM = (3.0, 8.0)
"""A comb's cells are so wide. Common practice, no source."""
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

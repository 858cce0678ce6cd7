"""Marks of ink put together to lines of writing.

Sizes are in lengths of the barcode above (`plane.BARS_PX` px) unless they say px.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pairing.photos.written.frame import Mark
from pairing.photos.written.plane import BARS_PX

_LEAST_LINE_HIGH = 0.027
"""Lower lines are captions or specks: digits on a strip are 1.5 mm and more."""
_LEAST_MARKS = 4
_LEAST_LINE_WIDE = 0.10
_ADDED_HIGH = 0.5
"""In heights of a line's characters: lower marks beside it are dots and specks. Common
practice, no source: a correction squeezed in above is written smaller, not half as small."""
_FEWEST_EVEN = 6
_UNEVEN_HIGH, _UNEVEN_FOOT = 0.055, 0.019
"""Spread of heights and of feet in heights. Measured on sample_scans: print up to 0.053 and
0.018, hands from 0.057 and 0.02 on. Only the words of the answer hang on it."""
_JOINED_WIDE, _JOINED_HIGH, _JOINED_FOOT = 3.5, 0.03, 0.015
"""The same of groups that run together in a blurred photo, in which a high character hides lower
ones. Measured on cards drawn by `tests.benchmarks.lost`, level hard: print to 0.019 and 0.012."""
_JOINED, _WORD_GAP = 5.0, 2.5
"""Joined characters are so wide for their height at most, and so far from the line, in its own."""
_FLAG_HIGH, _FLAG_WIDE, _FLAG_OFF, _FLAG_BESIDE = 0.4, 0.9, 0.25, 0.25
"""A five's flag, in heights of the line's characters: how high and wide it is at most, how far its
middle is from the character's head, and how far beside the character. Chosen by hand on cards that
`tests.benchmarks.lost` draws (seeds 5000 to 5169): 0.7 by 1.9 mm over digits of 3 mm."""


def rows_of(marks: list[Mark]) -> list[list[Mark]]:
    """Marks put together to lines, from the top; captions and specks left out. A few marks as
    tall as a line's, above or below it, are one too: a digit may be corrected so."""
    rows: list[list[Mark]] = []
    for mark in sorted(marks, key=lambda m: -m[3]):
        middle = mark[1] + mark[3] / 2
        best = None
        for row in rows:
            near = min(row, key=lambda m: abs(m[0] + m[2] / 2 - mark[0] - mark[2] / 2))
            if near[1] - 0.15 * near[3] < middle < near[1] + 1.15 * near[3]:
                best = row
                break
        if best is None:
            rows.append([mark])
        else:
            best.append(mark)
    rows.sort(key=len, reverse=True)
    kept: list[list[Mark]] = []
    for row in rows:
        home = next((other for other in kept if _is_on(row, other)), None)
        if home is None:
            kept.append(row)
        else:
            home += row
    lines = [row for row in kept if _is_line(row)]
    added = [row for row in kept if not _is_line(row) and _is_added(row, lines)]
    kept = [sorted(row) for row in (*lines, *added)]
    return sorted(kept, key=lambda row: float(np.median([m[1] for m in row])))


def _is_on(row: list[Mark], other: list[Mark]) -> bool:
    """Whether the middles of `row` lie on the line through `other`."""
    slope, at = fitted(*middles(other))
    x, y = middles(row)
    return bool(np.median(np.abs(y - at - slope * x)) < 0.45 * tall_of(other))


def _is_line(row: list[Mark]) -> bool:
    wide = max(m[0] + m[2] for m in row) - min(m[0] for m in row)
    is_long = wide >= _LEAST_LINE_WIDE * BARS_PX and tall_of(row) >= _LEAST_LINE_HIGH * BARS_PX
    # Few marks are a line only where they are joined up writing or a line struck out.
    return is_long and (len(row) >= _LEAST_MARKS or max(m[2] for m in row) > 0.2 * BARS_PX)


def _is_added(row: list[Mark], lines: list[list[Mark]]) -> bool:
    """Whether marks that are no line could be digits put above or below one."""
    tall = max((m[3] for m in row), default=0.0)
    if tall < _LEAST_LINE_HIGH * BARS_PX:
        return False
    left, right = min(m[0] for m in row), max(m[0] + m[2] for m in row)
    return any(
        tall > _ADDED_HIGH * tall_of(line)
        and right > min(m[0] for m in line)
        and left < max(m[0] + m[2] for m in line)
        for line in lines
    )


def run_on(row: list[Mark], beyond: list[Mark]) -> list[Mark]:
    """A line with what it runs on to beyond the box's sides: a number must not be cut off."""
    row, tall = list(row), tall_of(row)
    left = [m for m in beyond if 0.5 * tall < m[3] < 1.8 * tall]
    while near := next((m for m in left if _runs_on(m, row)), None):
        row.append(near)
        left.remove(near)
    return sorted(row)


def _runs_on(mark: Mark, row: list[Mark]) -> bool:
    tall = tall_of(row)
    first, last = min(m[0] for m in row), max(m[0] + m[2] for m in row)
    gap = max(mark[0] - last, first - mark[0] - mark[2])
    slope, at = fitted(*middles(row))
    x, y = mark[0] + mark[2] / 2, mark[1] + mark[3] / 2
    return gap < 1.2 * tall and abs(y - at - slope * x) < 0.6 * tall


def evened(row: list[Mark]) -> list[Mark]:
    """A printed line without what is taller than its characters, such as a label's frame."""
    most = 1.4 * float(np.median([m[3] for m in row]))
    return [m for m in row if m[3] <= most]


def is_even(row: list[Mark], slope: float) -> bool:
    """Whether characters are of one height and on one line, as printed ones do."""
    high = float(np.median([m[3] for m in row]))
    near = [m for m in row if 0.6 * high < m[3] < 1.5 * high and m[2] < _JOINED_WIDE * high]
    single = [m for m in near if m[2] < 1.5 * high]
    if len(single) >= _FEWEST_EVEN:
        return _are_even(single, slope, high=_UNEVEN_HIGH, foot=_UNEVEN_FOOT)
    if len(near) < _FEWEST_EVEN:
        return False
    return _are_even(near, slope, high=_JOINED_HIGH, foot=_JOINED_FOOT)


def _are_even(marks: list[Mark], slope: float, *, high: float, foot: float) -> bool:
    tall = float(np.median([m[3] for m in marks]))
    feet = np.array([m[1] + m[3] - slope * (m[0] + m[2] / 2) for m in marks])
    uneven = float(np.std([m[3] for m in marks])) / tall
    # The median of the distances: one joined or broken character must not count.
    off = float(np.median(np.abs(feet - np.median(feet)))) / tall
    return uneven < high and off < foot


def middles(row: list[Mark]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """x and y of each mark's middle, px."""
    return (np.array([m[0] + m[2] / 2 for m in row]), np.array([m[1] + m[3] / 2 for m in row]))


def tall_of(row: list[Mark]) -> float:
    """How tall the line's characters are, px: most are not taller."""
    return float(np.percentile([m[3] for m in row], 70))


def fitted(x: NDArray[np.float64], y: NDArray[np.float64]) -> tuple[float, float]:
    """Slope and height at 0 of the line through most of the middles (Theil and Sen)."""
    if len(x) < 3:
        return 0.0, float(np.median(y))
    i, j = np.triu_indices(len(x), 1)
    far = np.abs(x[j] - x[i]) > 0.25 * (x.max() - x.min())
    if not far.any():
        return 0.0, float(np.median(y))
    slope = float(np.clip(np.median((y[j] - y[i])[far] / (x[j] - x[i])[far]), -0.3, 0.3))
    return slope, float(np.median(y - slope * x))


def goes_on(mark: Mark, row: list[Mark]) -> bool:
    """Whether a thin mark before or after a line could be two of its characters, joined by a long
    stroke, as 3 and 4 are."""
    left, top, wide, high = mark
    tall = tall_of(row)
    slope, at = fitted(*middles(row))
    gap = max(left - max(m[0] + m[2] for m in row), min(m[0] for m in row) - left - wide)
    off = abs(top + high / 2 - at - slope * (left + wide / 2))
    is_sized = 0.55 * tall < high < 1.5 * tall and wide < _JOINED * high
    return is_sized and 0 < gap < _WORD_GAP * tall and off < 0.35 * tall


def is_flag(mark: Mark, row: list[Mark]) -> bool:
    """Whether a small flat mark at the head of one of a line's characters is its flag, as a 5 has:
    it is in the upper part of that character, and no digit put in above."""
    left, top, wide, high = mark
    tall = tall_of(row)
    if high > _FLAG_HIGH * tall or wide > _FLAG_WIDE * tall or high > wide:
        return False
    return any(
        abs(top + high / 2 - one[1]) < _FLAG_OFF * tall
        and left < one[0] + one[2] + _FLAG_BESIDE * tall
        and left + wide > one[0] + 0.3 * one[2]
        and one[3] > 0.55 * tall
        for one in row
    )


def with_flags(
    rows: list[list[Mark]], left_over: list[Mark]
) -> tuple[list[list[Mark]], list[Mark]]:
    """Lines with the flags of their fives where the pen was lifted before them; and what is left
    over then."""
    found = [list(row) for row in rows]
    left = []
    for mark in left_over:
        home = next((at for at, row in enumerate(rows) if is_flag(mark, row)), None)
        if home is None:
            left.append(mark)
        else:
            found[home].append(mark)
    return [sorted(row) for row in found], left

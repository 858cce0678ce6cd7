"""The number printed right under a barcode: found by its marks, or known to be cut.

Sizes are in lengths of the barcode above unless they say otherwise.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.written.bent_bars import unbent
from pairing.photos.written.box_lines import Line, cut_line, marks_of
from pairing.photos.written.frame import Frame, Mark, ink_of, parts_of, rules_of, without_rules
from pairing.photos.written.ink_rows import evened, fitted, middles, rows_of, tall_of
from pairing.photos.written.plane import Plane, beneath, homography, mapped, rectangle
from pairing.photos.written.reader import HIGH_PX, WIDE_PX

_FEWEST_PRINTED = 8
_LINE_ALONG, _WIDER_ALONG = 0.68, 0.85
"""How far the print under bars may reach from their middle, in lengths of the bars. Common
practice, no source: a short number's print is a little longer than its bars. What seems cut in the
one window is looked at in the other: half of a frame's side at a window's edge is a mark like
any, the whole of it is a rule."""
_WORD_GAP = 2.2
"""In heights of the characters: a wider gap separates a line from what is beside it."""
_LEFT_OUT = 3.5
"""In the same: what is so near an end of a line may belong to it."""
_LONE_WIDE, _LONE_GAP = 0.35, 0.9
"""An upright stroke so wide for its height, so far in heights of the characters from the next one.
Measured on cards drawn by `tests.benchmarks.lost`: a comb's lines 0.15 to 0.3 and 1.1 and more; a 1
that begins or ends a group has its neighbor 0.6 off."""
_SIDE, _ASTRAY_INK = 0.3, 0.02
"""A frame's corner that leans a little lies within so much of a mark's width and height, but for so
much of its ink. No digit does: each has ink across from where two of its strokes meet."""
_BARS_SEEN, _BARS_BLUR_PX = 0.03, 1.5
"""How much of the bars is seen above the print, so that a print close under them is whole."""


def line_under(photo: NDArray[np.uint8], bars: Quad) -> Line | None:
    """The line printed right under a barcode; None where there is none."""
    flat = unbent(photo, bars)
    if flat is None:
        return _line_under(photo, bars)
    line = _line_under(flat.gray, flat.bars)
    if line is None:
        return None
    ends = rectangle(0.0, 0.0, float(WIDE_PX), float(HIGH_PX))
    to_photo = homography(ends, flat.to_photo(mapped(line.to_photo, ends)))
    return replace(line, to_photo=to_photo)


def _line_under(photo: NDArray[np.uint8], bars: Quad) -> Line | None:
    line = _line_in(photo, bars, _LINE_ALONG)
    if line is None or not line.is_cut:
        return line
    wider = _line_in(photo, bars, _WIDER_ALONG)
    return line if wider is None or wider.is_cut else wider


def _line_in(photo: NDArray[np.uint8], bars: Quad, reach: float) -> Line | None:
    (ax, ay), (dx, dy) = bars.top_left, bars.bottom_left
    long = math.hypot(bars.top_right[0] - ax, bars.top_right[1] - ay) or 1.0
    edge = 0.5 * math.hypot(dx - ax, dy - ay) / long
    below = (edge - _BARS_SEEN, edge + 0.19)
    plane = beneath(photo, bars, along=(-reach, reach), below=below)
    under = _under_bars(plane, bars)
    ink = np.asarray(np.where(under > 0, ink_of(plane.gray), 0), np.uint8)
    everywhere = Frame(top=0, foot=len(ink), left=None, right=None, is_ruled=False)
    free = without_rules(ink, rules_of(ink))
    rows = [row for row in rows_of(marks_of(free, everywhere)) if len(row) >= _FEWEST_PRINTED]
    if not rows:
        return None
    row = _without_lone(_longest_run(evened(rows[0])))
    line = cut_line(photo, plane, row, below[0], np.asarray(255 - under, np.uint8))
    return replace(line, is_cut=_is_cut(row, free))


def _under_bars(plane: Plane, bars: Quad) -> NDArray[np.uint8]:
    """255 in the part of the plane that lies under the bars, whose blur reaches a little on."""
    (ax, ay), (bx, by) = plane.place(np.array([bars.bottom_left, bars.bottom_right]))
    slope = (by - ay) / max(bx - ax, 1.0)
    high, wide = plane.gray.shape
    foot = ay + slope * (np.arange(wide) - ax) + _BARS_BLUR_PX
    return np.asarray(np.where(np.arange(high)[:, None] > foot, 255, 0), np.uint8)


def _longest_run(row: list[Mark]) -> list[Mark]:
    """The marks of a line that follow each other: what is left of a form's upright rule stands
    far from them."""
    gap = _WORD_GAP * tall_of(row)
    runs: list[list[Mark]] = []
    for mark in sorted(row):
        if runs and mark[0] - max(m[0] + m[2] for m in runs[-1]) < gap:
            runs[-1].append(mark)
        else:
            runs.append([mark])
    return max(runs, key=len)


def _without_lone(row: list[Mark]) -> list[Mark]:
    """A line without lone upright strokes at its ends: a comb's, beside the strip. Numbers are
    printed in groups of two digits and more."""
    row, tall = sorted(row), tall_of(row)
    while len(row) > _FEWEST_PRINTED and _is_lone(row[-1], row[:-1], tall):
        row = row[:-1]
    while len(row) > _FEWEST_PRINTED and _is_lone(row[0], row[1:], tall):
        row = row[1:]
    return row


def _is_lone(mark: Mark, row: list[Mark], tall: float) -> bool:
    first, last = min(m[0] for m in row), max(m[0] + m[2] for m in row)
    gap = max(mark[0] - last, first - mark[0] - mark[2])
    return mark[2] < _LONE_WIDE * mark[3] and gap > _LONE_GAP * tall


def _is_cut(row: list[Mark], free: NDArray[np.uint8]) -> bool:
    """Whether a printed line may be a part of what is there: a mark touches the window's
    edge, or ink as tall as its characters was left out of it or follows at its end.

    free: the window's ink without rules.
    """
    high, wide = free.shape
    if any(m[0] <= 1 or m[0] + m[2] >= wide - 1 or m[1] + m[3] >= high - 1 for m in row):
        return True
    tall = tall_of(row)
    first, last = min(m[0] for m in row), max(m[0] + m[2] for m in row)
    slope, at = fitted(*middles(row))
    kept = {(m[0], m[1]) for m in row}
    for left, top, mark_wide, mark_high, _ in parts_of(free):
        x, y = left + mark_wide / 2, top + mark_high / 2
        near = _LEFT_OUT * tall
        is_thin = mark_wide < 0.2 * mark_high and mark_high > 1.2 * tall  # of a frame's side
        is_thin |= _is_lone((left, top, mark_wide, mark_high), row, tall)
        if (left, top) in kept or mark_high < 0.6 * tall or is_thin:
            continue
        if mark_high > 1.2 * tall and _is_corner(free[top : top + mark_high, left:][:, :mark_wide]):
            continue
        if first - near < x < last + near and abs(y - at - slope * x) < 0.5 * tall:
            return True
    return False


def _is_corner(inked: NDArray[np.uint8]) -> bool:
    """Whether all ink of a mark lies along two neighboring sides of it: a frame's corner."""
    high, wide = inked.shape
    side, level = max(3, round(_SIDE * wide)), max(3, round(_SIDE * high))
    total = int(np.count_nonzero(inked))
    for across in (inked, inked[::-1]):
        for turned in (across, across[:, ::-1]):
            if np.count_nonzero(turned[level:, side:]) <= _ASTRAY_INK * total:
                return True
    return False

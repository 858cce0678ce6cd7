"""A box whose place is known, laid flat: every mark in it is accounted for, or it is not read.

Each mark of 1.5 mm and more in the box belongs to the form (its own ink where it is really
seen), to the one line of the number, or to a strip (its bars, its print, its edge).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.written.dotted_rules import dots_on_rules
from pairing.photos.written.faint_ends import goes_on_faintly
from pairing.photos.written.form_ink import disc, hidden_ink, rules_across, seen_rules
from pairing.photos.written.frame import Mark, ink_of
from pairing.photos.written.ink_rows import fitted, goes_on, middles, rows_of, tall_of, with_flags
from pairing.photos.written.lifted_rules import lifted
from pairing.photos.written.paper_edges import EDGE_MM, is_edge, without_sides
from pairing.photos.written.plane import PX_PER_MM, Plane

LEAST_MM = 1.5
"""Smaller marks are specks: digits on a strip are 1.5 mm and more."""
_SLIVER_MM = 0.7
_DOT_MM, _MOST_DOT_MM, _DOT_BEYOND_MM, _FEWEST_DOTS = 0.3, 1.2, 0.9, 3
"""A pen's dot, in the box and beyond it, and how many of them in a row are no specks."""
_THIN_MM = 0.75
"""A pen's or a rule's width, blurred."""
_SLIVER_HIGH_MM = 1.4
_LONG_MM = 5.0
_LOWEST_MM, _TALLEST_MM = 2.5, 9.5
_MOST_MARKS, _TOUCHING = 400, 3.0
"""More marks are the grain of a table; a digit, or three that touch, is so wide for its height."""
_BAR_MM, _FEWEST_BARS = 2.6, 18
"""Higher upright marks, so many of them, are a strip's bars: a number of 20 digits has 40."""
_EDGE_PX = 3
_AT_BOX_MM, _ENOUGH_MM2, _LEAST_BARE = 1.5, 30.0, 0.2
"""Of the form's ink at the box, if there is so much of it, a strip leaves more than this to be
seen; a label that lies over the whole box does not."""
_SEEN_MM = 0.12
"""What counts as seen of it is no paler than other marks: a strip's edge is."""
_CORE = 0.12
"""Of a line's height, above and below, what is not its core: a strip's edge may lie there."""
_MOST_TALL = 1.9
"""In heights of a line's characters: a taller mark is more than a character."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """A stretch of paper around a box. plane: `plane.PX_PER_MM` px a mm, level. box: the box's
    corners (4, 2) in its px. printed: 255 where the form's own ink lies, as nearly as known. own:
    255 where each card has bars and a number of its own, but for what of it lies in the box; None
    for nowhere."""

    plane: Plane
    box: NDArray[np.float64]
    printed: NDArray[np.uint8]
    own: NDArray[np.uint8] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """What is in a box. clean, ink: the plane without the form's own ink, and what is inked in
    it. rows: lines of marks, from the top. left_over: marks in the box that belong to none.
    small: lower marks in the box, letters of captions among them. painted, lifted: 255 where the
    form's ink was left out, and where its rules were lifted off what is there; slivers: where a
    little of its ink stayed. has_bars: a strip's upright bars are in it. is_covered: hardly any of
    the form's own ink is seen there."""

    clean: NDArray[np.uint8]
    ink: NDArray[np.uint8]
    rows: tuple[list[Mark], ...]
    left_over: tuple[Mark, ...]
    small: tuple[Mark, ...]
    painted: NDArray[np.uint8]
    lifted: NDArray[np.uint8]
    slivers: NDArray[np.uint8]
    has_bars: bool
    is_covered: bool

    @property
    def is_cut(self) -> bool:
        """Whether the picture's edge cuts a row, or one goes on too faintly to be ink."""
        return any(is_cut(row, self.ink) or goes_on_faintly(self.clean, row) for row in self.rows)


def content_of(region: Region, *, strip: NDArray[np.float64] | None = None) -> Content:
    """Find what is in the box. strip: corners (4, 2) of a strip in the plane: what is on it is
    its own."""
    gray = region.plane.gray
    hidden = hidden_ink(gray, region.printed, region.own, region.box)
    clean, painted, ink, done = gray, hidden, ink_of(gray), np.zeros_like(hidden)
    seen, rules = cv2.dilate(ink, disc(_SEEN_MM)), rules_across(ink)
    if hidden.any():
        clean, done = lifted(gray, *seen_rules(gray, region.printed))
        painted = np.where(done > 0, np.uint8(0), hidden)
        clean = np.asarray(cv2.inpaint(clean, painted, 3, cv2.INPAINT_TELEA), np.uint8)
        ink = ink_of(clean)
    sorted_out = _sorted_out(clean, ink, region, strip)
    # A large 1 or 7 by a fine pen is thin and long too.
    upright = [m for _, m in sorted_out.thin if _could_be_character(m)]
    rows, left_over = _rows([m for _, m in sorted_out.marks] + upright)
    rows = [without_sides(clean, row) for row in rows]
    in_rows = {id(m) for row in rows for m in row}
    thin = [(at, m) for at, m in sorted_out.thin if id(m) not in in_rows]
    left_over = [m for m in left_over if all(m is not other for _, other in thin)]
    left_over += _dotted([*sorted_out.dots, *sorted_out.small_beyond()], rows)
    for row in rows:
        left_over += dots_on_rules(gray, rules, row, sorted_out.ink_of(row))
    beside = (*thin, *sorted_out.edges)
    left_over += [m for at, m in beside if _crosses(m, sorted_out.labels, at, rows)]
    rows = [_run_on(row, sorted_out.beyond) for row in rows]
    every = [m for _, m in (*sorted_out.marks, *sorted_out.thin, *sorted_out.edges)]
    bars = [m for m in every if m[3] > 5 * m[2] and m[3] > _BAR_MM * PX_PER_MM]
    return Content(
        clean=clean,
        ink=ink,
        rows=tuple(rows),
        left_over=tuple(left_over),
        small=tuple(sorted_out.dots),
        painted=painted,
        lifted=done,
        slivers=np.isin(sorted_out.labels, sorted_out.slivers).astype(np.uint8) * 255,
        has_bars=len(bars) >= _FEWEST_BARS,
        is_covered=_is_covered(region, hidden & np.asarray(seen, np.uint8)),
    )


def _is_covered(region: Region, hidden: NDArray[np.uint8]) -> bool:
    """Whether hardly anything of the form's own ink at the box is seen: something lies over it."""
    if (region.printed > 0).sum() < _ENOUGH_MM2 * PX_PER_MM**2:
        return False
    near = np.zeros(hidden.shape, np.uint8)
    cv2.fillPoly(near, [np.round(region.box).astype(np.int32)], (255,))
    near = np.asarray(cv2.dilate(near, disc(_AT_BOX_MM)), np.uint8)
    expected = (region.printed > 0) & (near > 0)
    if expected.sum() < _ENOUGH_MM2 * PX_PER_MM**2:
        return False
    return bool((expected & (hidden > 0)).sum() < _LEAST_BARE * expected.sum())


def is_cut(row: list[Mark], ink: NDArray[np.uint8]) -> bool:
    """Whether a line runs into the edge of its plane."""
    high, wide = ink.shape
    return any(
        min(m[0], m[1]) < _EDGE_PX or m[0] + m[2] > wide - _EDGE_PX or m[1] + m[3] > high - _EDGE_PX
        for m in row
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _SortedOut:
    """Marks in the box with their labels, apart from those that are thin and long and from a
    strip's edges; marks beyond it; dots in it and beyond it; labels of slivers of the form's own
    ink."""

    labels: NDArray[np.int32]
    marks: list[tuple[int, Mark]]
    thin: list[tuple[int, Mark]]
    edges: list[tuple[int, Mark]]
    beyond: list[Mark]
    dots: list[Mark]
    dots_beyond: list[Mark]
    slivers: list[int]

    def small_beyond(self) -> list[Mark]:
        return [m for m in self.dots_beyond if max(m[2:]) < _DOT_BEYOND_MM * PX_PER_MM]

    def ink_of(self, row: list[Mark]) -> NDArray[np.bool_]:
        """The pixels of a line's marks."""
        wanted = {id(mark) for mark in row}
        labels = [at for at, mark in (*self.marks, *self.thin) if id(mark) in wanted]
        return np.isin(self.labels, labels)


def _sorted_out(
    clean: NDArray[np.uint8],
    ink: NDArray[np.uint8],
    region: Region,
    strip: NDArray[np.float64] | None,
) -> _SortedOut:
    """What is inked, without specks, slivers of the form's own ink, and what a strip bears."""
    near_print = cv2.dilate(region.printed, disc(_SLIVER_MM))
    inside = np.zeros(ink.shape, np.uint8)
    cv2.fillPoly(inside, [np.round(region.box).astype(np.int32)], (255,))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(ink)
    in_box = np.bincount(labels[inside > 0], minlength=count)
    on_print = np.bincount(labels[near_print > 0], minlength=count)
    found = _SortedOut(
        labels=np.asarray(labels, np.int32), marks=[], thin=[], edges=[], beyond=[], dots=[],
        dots_beyond=[], slivers=[],
    )  # fmt: skip
    soft = np.asarray(cv2.GaussianBlur(clean, (0, 0), 1.5), np.float32)
    for at in range(1, count):
        left, top, wide, high, area = (int(v) for v in stats[at])
        mark = (float(left), float(top), float(wide), float(high))
        is_sliver = on_print[at] > 0.8 * area and min(wide, high) < _SLIVER_HIGH_MM * PX_PER_MM
        if is_sliver:
            found.slivers.append(at)
        if max(wide, high) < LEAST_MM * PX_PER_MM:
            if min(wide, high) >= _DOT_MM * PX_PER_MM and not is_sliver:
                (found.dots if in_box[at] else found.dots_beyond).append(mark)
        elif is_sliver or (strip is not None and _is_on(strip, mark)):
            continue
        elif in_box[at] < 0.3 * area and in_box[at] < 0.8 * PX_PER_MM**2:
            found.beyond.append(mark)
        elif area < EDGE_MM * PX_PER_MM * max(wide, high) and is_edge(
            soft, labels[top : top + high, left : left + wide] == at, mark
        ):
            found.edges.append((at, mark))
        elif _is_thin(mark, area):
            found.thin.append((at, mark))
        else:
            found.marks.append((at, mark))
    return found


def _could_be_character(mark: Mark) -> bool:
    """Whether a thin, long mark could be a digit or two that touch; such must then be read."""
    _, _, wide, high = mark
    return _LOWEST_MM < high / PX_PER_MM < _TALLEST_MM and wide < _TOUCHING * high


def _is_thin(mark: Mark, area: int) -> bool:
    """Whether a mark is a long stroke with nothing else to it."""
    _, _, wide, high = mark
    is_long = max(wide, high) > _LONG_MM * PX_PER_MM
    return is_long and area < _THIN_MM * PX_PER_MM * (wide + high)


def _is_on(strip: NDArray[np.float64], mark: Mark) -> bool:
    middle = (mark[0] + mark[2] / 2, mark[1] + mark[3] / 2)
    polygon = strip.astype(np.float32).reshape(-1, 1, 2)
    return cv2.pointPolygonTest(polygon, middle, False) >= 0


def _rows(marks: list[Mark]) -> tuple[list[list[Mark]], list[Mark]]:
    """Lines, and the marks that are in none of them."""
    rows = rows_of(marks) if len(marks) <= _MOST_MARKS else []
    used = {id(m) for row in rows for m in row}
    return with_flags(rows, [m for m in marks if id(m) not in used])


def _dotted(dots: list[Mark], rows: list[list[Mark]]) -> list[Mark]:
    """Dots in a row under or over a line: by them a writer takes back what is above them."""
    found: list[Mark] = []
    round_ones = [m for m in dots if max(m[2], m[3]) < _MOST_DOT_MM * PX_PER_MM]
    for row in rows:
        tall = tall_of(row)
        slope, at = fitted(*middles(row))
        left, right = min(m[0] for m in row), max(m[0] + m[2] for m in row)
        off = [
            (m, (m[1] + m[3] / 2 - at - slope * (m[0] + m[2] / 2)) / tall)
            for m in round_ones if left < m[0] + m[2] / 2 < right
        ]  # fmt: skip
        for side in (-1, 1):
            beside = [m for m, y in off if 0.58 < side * y < 1.5]
            heights = [y for _, y in off if 0.58 < side * y < 1.5]
            if len(beside) >= _FEWEST_DOTS and np.std(heights) < 0.15:
                found += [m for m in beside if all(m is not other for other in found)]
    return found


def _crosses(mark: Mark, labels: NDArray[np.int32], label: int, rows: list[list[Mark]]) -> bool:
    """Whether a thin, long mark has a part where a line's characters are, or could be more of them:
    else it may be a strip's edge, or an arc of a postmark beside the number."""
    first, top, wide, high = (int(v) for v in mark)
    y, x = np.nonzero(labels[top : top + high, first : first + wide] == label)
    x, y = x + first, y + top
    for row in rows:
        tall = tall_of(row)
        slope, at = fitted(*middles(row))
        left, right = min(m[0] for m in row), max(m[0] + m[2] for m in row)
        is_level = np.abs(y - at - slope * x) < (0.5 - _CORE) * tall
        is_in = is_level & (x > left - 0.3 * tall) & (x < right + 0.3 * tall)
        if is_in.any() or goes_on(mark, row):
            return True
    return False


def _run_on(row: list[Mark], beyond: list[Mark]) -> list[Mark]:
    """A line with what it runs on to beyond the box: a number must not be cut off."""
    row, tall = list(row), tall_of(row)
    left = [m for m in beyond if 0.5 * tall < m[3] < _MOST_TALL * tall]
    while near := next((m for m in left if _is_next_to(m, row, tall)), None):
        row.append(near)
        left.remove(near)
    return sorted(row)


def _is_next_to(mark: Mark, row: list[Mark], tall: float) -> bool:
    first, last = min(m[0] for m in row), max(m[0] + m[2] for m in row)
    gap = max(mark[0] - last, first - mark[0] - mark[2])
    slope, at = fitted(*middles(row))
    x, y = mark[0] + mark[2] / 2, mark[1] + mark[3] / 2
    return gap < 1.2 * tall and abs(y - at - slope * x) < 0.6 * tall

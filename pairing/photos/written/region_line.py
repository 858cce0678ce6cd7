"""A line of marks, and the photo that it is in, without the form's ink."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.written.box_lines import Line, cut_line
from pairing.photos.written.form_ink import rules_across
from pairing.photos.written.frame import Mark
from pairing.photos.written.ink_rows import fitted, middles, tall_of
from pairing.photos.written.plane import Plane, mapped, rectangle
from pairing.photos.written.region import Content, Region

_NEAR_PX, _UPRIGHT = 3, 0.6
"""Of a mark's height so much is painted over beside it."""
_CORE, _THROUGH = 0.3, 0.3
"""A rule is no farther from the line's middle, in heights of its characters, for so much of the
line's length. Chosen by hand: `tests.benchmarks.alterations` strikes from side to side at the
middle, and a rule that feet are written across is 0.35 and more below it."""
_ALONG = 0.5
"""Of a line's length a rule that runs along it was painted over."""
_AROUND = 0.6
"""In heights of the line's characters: what is cut out reaches so far beyond its marks."""


def line_in(photo: NDArray[np.uint8], region: Region, content: Content, row: list[Mark]) -> Line:
    """The line, cut from the photo; where a rule was lifted off it, from the plane without it.
    photo: gray (h, w) uint8, the one that the region was laid flat from."""
    is_over_edge = any(_leaves(mark, region) or _is_painted(mark, content) for mark in row)
    if not is_lifted(content, row):
        line = cut_line(photo, region.plane, row, 0.0, content.painted, goes_on=True)
        return replace(line, is_over_edge=is_over_edge)
    clean = Plane(gray=content.clean, to_photo=np.eye(3), scale=1.0)
    line = cut_line(content.clean, clean, row, 0.0, np.zeros_like(content.clean))
    to_photo = region.plane.to_photo @ line.to_photo
    return replace(line, to_photo=to_photo, is_over_edge=is_over_edge)


def is_ruled_through(region: Region, row: list[Mark]) -> bool:
    """Whether what is taken for the form's rules runs through a line's middle: a number is written
    on a rule, or across one with its feet. On a card of no known form a line through the middle,
    from one side of the box to the other, struck the number out."""
    tall = tall_of(row)
    slope, at = fitted(*middles(row))
    left, right = min(m[0] for m in row), max(m[0] + m[2] for m in row)
    across = rules_across(region.printed)
    columns = np.arange(max(0, round(left)), min(across.shape[1], round(right)))
    ys, xs = np.nonzero(across[:, columns[0] : columns[-1] + 1])
    off = np.abs(ys - at - slope * (xs + columns[0]))
    through = np.unique(xs[off < _CORE * tall])
    return len(through) > _THROUGH * len(columns)


def _is_painted(mark: Mark, content: Content) -> bool:
    """Whether an upright rule was painted over so near to a mark that it may have had a part of
    it, as a comb's dividing line has a 7's stem."""
    left, top, wide, high = (round(v) for v in mark)
    part = content.painted[top : top + high, max(0, left - _NEAR_PX) : left + wide + _NEAR_PX]
    return bool((part > 0).mean(0).max(initial=0.0) > _UPRIGHT)


def without_rules(photo: NDArray[np.uint8], region: Region, content: Content) -> NDArray[np.uint8]:
    """The photo as it would be without the form's ink in the region: a rule that a number is
    written on looks like a stroke through it, a rest of one like a dot. Shapes as in `line_in`."""
    corners = mapped(region.plane.to_photo, rectangle(0.0, 0.0, *region.plane.gray.shape[::-1]))
    left, top = np.maximum(0, np.floor(corners.min(0))).astype(int).tolist()
    right, foot = np.minimum(photo.shape[::-1], np.ceil(corners.max(0))).astype(int).tolist()
    if right <= left or foot <= top:
        return photo
    to_part = np.array([[1.0, 0, -left], [0, 1.0, -top], [0, 0, 1.0]]) @ region.plane.to_photo
    size = (right - left, foot - top)
    rests = np.asarray(cv2.dilate(content.slivers, np.ones((5, 5), np.uint8)), np.uint8)
    clean = cv2.inpaint(content.clean, rests, 3, cv2.INPAINT_TELEA)
    bare = cv2.warpPerspective(clean, to_part, size)
    changed = cv2.warpPerspective(content.lifted | content.painted | rests, to_part, size)
    found = photo.copy()
    part = found[top:foot, left:right]
    part[:] = np.where(changed > 0, bare, part)
    return found


def is_lifted(content: Content, row: list[Mark]) -> bool:
    """Whether rules were lifted at a line."""
    return bool(content.lifted[_around(row)].any())


def is_bared(content: Content, row: list[Mark]) -> bool:
    """Whether the form's rules were lifted at a line, or one along it was painted over: where a
    comb's dividing lines were, the digits have gaps."""
    here = _around(row)
    if content.lifted[here].any():
        return True
    along = content.painted[here].any(0)
    is_along = bool(along.size) and bool(along.mean() > _ALONG)
    return is_along and not any(_is_painted(mark, content) for mark in row)


def _around(row: list[Mark]) -> tuple[slice, slice]:
    around = _AROUND * tall_of(row)
    left, right = min(m[0] for m in row) - around, max(m[0] + m[2] for m in row) + around
    top, foot = min(m[1] for m in row) - around, max(m[1] + m[3] for m in row) + around
    return slice(max(0, round(top)), round(foot)), slice(max(0, round(left)), round(right))


def _leaves(mark: Mark, region: Region) -> bool:
    """Whether a mark goes over the box's edge by more than a stroke that touches it."""
    left, top, wide, high = mark
    over = 0.15 * high
    corners = [
        (x, y) for x in (left + over, left + wide - over) for y in (top + over, top + high - over)
    ]
    polygon = region.box.astype(np.float32).reshape(-1, 1, 2)
    return any(cv2.pointPolygonTest(polygon, corner, False) < 0 for corner in corners)

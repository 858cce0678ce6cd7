"""A card of no known form: a number is taken from it only if it is the one line, in the one
place, that can be the number.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.judge.box import Unread
from pairing.model import Quad
from pairing.numbers import MODULES
from pairing.photos.finder.number_lines import proposals
from pairing.photos.written.box import (
    LEAST_SURE,
    BoxReading,
    is_all_read,
    is_digit_struck,
)
from pairing.photos.written.box_lines import Line, cut_line
from pairing.photos.written.frame import Mark
from pairing.photos.written.ink_rows import fitted, middles, tall_of
from pairing.photos.written.plane import PX_PER_MM, corners_of
from pairing.photos.written.proposed_line import is_altered, proposed_region
from pairing.photos.written.reader import Reader, WrittenLine
from pairing.photos.written.region import Content, Region, content_of, is_cut, leaves
from pairing.photos.written.ruled_cells import Cell, cell_region, cells, middle_of, open_regions
from pairing.photos.written.strokes import longest_stroke

LENGTHS = frozenset(n for name, module in MODULES.items() if name not in ("sscc", "routing")
                    for n in module.FAMILY.lengths)  # fmt: skip
"""How long the numbers of articles and of cards are."""
_FEWEST_MARKS = 7
"""A number has at least 13 characters; two or three of them may touch."""
_TALL_MM = (1.6, 9.5)
_CAPTION = 0.8
"""In heights of the number's characters: form print beside it is lower."""
_FEWEST_LETTERS = 6
"""Fewer low marks may be a digit that was put in."""
_BESIDE = 1.6
"""In the same: what is so near above or below the number, on paper without rules, has to do
with it."""
_LEAST_BEST = math.log(0.3)
"""A text less likely than this may be a word: nothing is told by its place."""
_SAME_MM = 3.0
_NEAR_OWN = 3
"""A text that differs from the card's own number in no more characters is that number, read
badly."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A line that could be the number: where it is in the photo, and what was read."""

    line: Line
    read: WrittenLine
    middle: NDArray[np.float64]
    mm_px: float
    reason: Unread | None


def read_unknown(
    photo: NDArray[np.uint8], bars: Quad | None, own: str, reader: Reader
) -> BoxReading:
    """What is written on a card of no known form. bars: its own barcode; own: its own number,
    which is never the box's. `Unread.FORM_UNKNOWN` unless exactly one line can be it."""
    found: list[Candidate] = []
    enclosed = cells(photo, bars)
    for cell in enclosed:
        found += [
            one
            for one in _candidates(photo, cell_region(photo, cell), reader, is_cell=True)
            if not _is_own(one, bars, own) and not _is_known(one, found)
        ]
    for region in open_regions(photo, bars) if bars is not None else ():
        found += [
            one
            for one in _candidates(photo, region, reader, is_cell=False)
            if not any(_is_in(one, cell) for cell in enclosed)
            and not _is_own(one, bars, own)
            and not _is_known(one, found)
        ]
    seen, is_struck = _proposed(photo, bars, own, reader)
    found += [one for one in seen if not _is_known(one, found)]
    lines = tuple(one.line for one in found)
    if len(found) != 1:
        return BoxReading(line=None, reason=Unread.FORM_UNKNOWN, lines=lines, used=())
    (only,) = found
    reason = only.reason or (Unread.STRUCK if is_struck else None)
    if reason is not None:
        return BoxReading(line=None, reason=reason, lines=lines, used=())
    return BoxReading(line=only.read, reason=None, lines=lines, used=lines)


def _proposed(
    photo: NDArray[np.uint8], bars: Quad | None, own: str, reader: Reader
) -> tuple[list[Candidate], bool]:
    """The candidates in lines that the finder proposes, and whether it sees one of its lines
    altered."""
    found: list[Candidate] = []
    is_struck = False
    for one in proposals(photo, None if bars is None else corners_of(bars)):
        region = proposed_region(photo, one)
        is_struck = is_struck or is_altered(region, one)
        found += [
            each
            for each in _candidates(photo, region, reader, is_cell=False)
            if _is_on(each, one.corners)
            and not _is_own(each, bars, own)
            and not _is_known(each, found)
        ]
    return found, is_struck


def _candidates(
    photo: NDArray[np.uint8], region: Region, reader: Reader, *, is_cell: bool
) -> list[Candidate]:
    content = content_of(region)
    found = []
    for row in content.rows:
        tall_mm = tall_of(row) / PX_PER_MM
        if len(row) < _FEWEST_MARKS or not _TALL_MM[0] < tall_mm < _TALL_MM[1]:
            continue
        line = cut_line(photo, region.plane, row, 0.0, content.painted, goes_on=True)
        line = replace(line, is_over_edge=any(leaves(mark, region) for mark in row))
        look = reader.look(line.picture)
        if not look.is_number and look.kind != "altered":
            continue
        read = WrittenLine([look.chances], [look.blots])
        is_number = len(read.best) in LENGTHS and read.log_any >= math.log(LEAST_SURE)
        if not is_number or read.log_likelihood(read.best) < _LEAST_BEST:
            continue
        found.append(
            Candidate(
                line=line,
                read=read,
                middle=middle_of(region, row),
                mm_px=region.plane.scale * PX_PER_MM,
                reason=_against(content, row, line, read, is_cell=is_cell)
                or (None if look.is_number else Unread.OTHER_WRITING),
            )
        )
    return found


def _against(
    content: Content, row: list[Mark], line: Line, read: WrittenLine, *, is_cell: bool
) -> Unread | None:
    """Why the line may not be taken, though it is a number; None for no reason."""
    tall = tall_of(row)
    slope, at = fitted(*middles(row))
    left, right = min(m[0] for m in row), max(m[0] + m[2] for m in row)

    def reach(mark: Mark) -> float:
        """How far off the line's middle a mark begins, in heights of its characters."""
        middle = at + slope * (mark[0] + mark[2] / 2)
        return max(0.0, mark[1] - middle, middle - mark[1] - mark[3]) / tall

    def is_level(mark: Mark) -> bool:
        return mark[0] < right + tall and mark[0] + mark[2] > left - tall

    if content.has_bars:
        return Unread.BARS_UNREAD
    if is_cut(row, content.ink):
        return Unread.CUT
    for other in content.rows:
        is_near = is_cell or any(reach(m) < _BESIDE and is_level(m) for m in other)
        if other is not row and is_near and not _is_caption(other, tall):
            return Unread.OTHER_WRITING
    for mark in content.left_over:
        if is_cell or (is_level(mark) and reach(mark) < _BESIDE):
            return Unread.OTHER_WRITING
    content = replace(content, rows=(row,))
    stroke = longest_stroke(content.clean, content.ink, row)
    if stroke.is_through(is_print=line.is_even) or is_digit_struck(line, content, read):
        return Unread.STRUCK
    return None if is_all_read(line, row, read) else Unread.OTHER_WRITING


def _is_caption(row: list[Mark], tall: float) -> bool:
    """Whether a row is form print beside a number: lower, and of single letters."""
    is_print = len(row) >= _FEWEST_LETTERS and max(m[2] for m in row) < 1.6 * tall
    return is_print and tall_of(row) < _CAPTION * tall


def _is_own(one: Candidate, bars: Quad | None, own: str) -> bool:
    """Whether a line is the card's own printed number, well or badly read."""
    if not own or bars is None:
        return False
    text = one.read.best
    if text == own:
        return True
    off = sum(a != b for a, b in zip(text, own, strict=False))
    return len(text) == len(own) and off <= _NEAR_OWN


def _is_in(one: Candidate, cell: Cell) -> bool:
    return _is_on(one, cell.corners)


def _is_on(one: Candidate, corners: NDArray[np.float64]) -> bool:
    around = corners.astype(np.float32).reshape(-1, 1, 2)
    x, y = one.middle[0]
    return cv2.pointPolygonTest(around, (float(x), float(y)), False) >= 0


def _is_known(one: Candidate, found: Sequence[Candidate]) -> bool:
    """Whether the same line was found before, in another region."""
    return any(
        float(np.linalg.norm(one.middle - other.middle)) < _SAME_MM * one.mm_px for other in found
    )

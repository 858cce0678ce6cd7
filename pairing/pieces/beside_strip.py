"""What is written around a strip on a card of no known form: only the form's print may be.

Looked at are the paper around the strip and the cell that it lies in, whose rules are known there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.barcodes.quads import length_px
from pairing.photos.written import shared_reader
from pairing.photos.written.box_lines import cut_line
from pairing.photos.written.form_ink import rules_in
from pairing.photos.written.form_words import are_seen_printed, are_words, put_together
from pairing.photos.written.frame import Mark, ink_of
from pairing.photos.written.ink_rows import fitted, middles, tall_of
from pairing.photos.written.plane import PX_PER_MM, corners_of, stretch
from pairing.photos.written.region import LEAST_MM, Content, Region, content_of
from pairing.photos.written.ruled_cells import Cell, cell_region, cells

Corners = NDArray[np.float64]

_PRINT_MM = 2.4
"""Higher rows beside a strip are no captions, whatever they look like; neither are rows that are so
high if the strip's bars are as long as they may be, unless they are surely words."""
_JOINED_PRINT_MM = 3.0
"""The same for a row of letters that ran together, as both networks see: 2 mm, and their tails."""
_CARD_BARS_MM, _STRIP_BARS_MM = 52.0, 48.0
"""Bars of a card's number, 22 digits at 0.33 mm, and the longest of a strip, as which they are laid
flat. Common practice, no source. By the first the second are told: often 33 to 40 mm."""
_SHORTEST_BARS = 0.65  # of the longest
_MOST_MM = 9.5
"""Higher marks are the table beside the card."""
_FEWEST = 4
_GAP = 1.6
"""Characters of a group, and groups of a number, are no farther apart, in heights."""
_UPRIGHT = 7.0
"""A higher mark for its width is what is left of a rule, or a bar."""
_RULE_MM = 20.0
_SLIP_MM = 9.0
"""A slip ends so far from its bars at most (`pasted_slip`)."""
_OVER_RULE_MM = 2.5
"""Writing in a cell may reach so far over its rules. Common practice, no source."""
_OWN_ALONG, _OWN_UNDER = 0.62, 0.115
"""A card's own bars and the number right under them, in lengths of the bars."""


def is_written_beside(
    photo: NDArray[np.uint8],
    around: Region,
    card: Quad | None,
    bars: Quad,
    places: Callable[[Region], tuple[Corners, Corners | None]],
) -> bool:
    """Whether anything but the form's print is written around a strip.

    photo: gray (h, w) uint8. around: the paper around the strip, laid flat as if its bars were as
    long as they may be. card, bars: the card's own bars and the strip's. places: corners (4, 2) of
    the strip and of its print in a region's plane; None for print that was not read.
    """
    size = _size_of_strip(card, bars)
    enclosing = _cells_of(photo, card, bars.center)
    around = _within(around, around.plane.place(corners_of(bars)), enclosing)
    # Without the rules, since a digit that touches one has the rule's form.
    rules = rules_in(ink_of(around.plane.gray), _RULE_MM * PX_PER_MM)
    looked = [around, replace(around, printed=rules)]
    told: list[Mark] = []
    paper = [_Around(region=one, card=card, size=size) for one in looked]
    if any(_is_written(photo, one, places(one.region), told) for one in paper):
        return True
    inner = [_Around(region=cell_region(photo, cell), card=card) for cell in enclosing]
    return any(_is_written(photo, one, places(one.region), []) for one in inner)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Around:
    """Paper around a strip. card: the card's own bars. size: what a length there is of what it
    seems to be."""

    region: Region
    card: Quad | None
    size: float = 1.0


def _size_of_strip(card: Quad | None, bars: Quad) -> float:
    """The length of a strip's bars beside the longest that they may have; 1 without the card's."""
    if card is None:
        return 1.0
    long_mm = _CARD_BARS_MM * length_px(bars) / max(length_px(card), 1.0)
    return float(np.clip(long_mm / _STRIP_BARS_MM, _SHORTEST_BARS, 1.0))


def _within(around: Region, bars: Corners, enclosing: Sequence[Cell]) -> Region:
    """The paper around a strip: within a cell, only so far as writing in the cell may reach over
    its rules. What lies beyond them belongs to other fields. A side so near that it may be the
    slip's own edge bounds nothing. bars: their corners in the plane, (4, 2)."""
    near, reach = _SLIP_MM * PX_PER_MM, _OVER_RULE_MM * PX_PER_MM
    (left, _), (right, _) = bars.min(axis=0), bars.max(axis=0)
    wide = float(around.plane.gray.shape[1])
    for cell in enclosing:
        box = around.plane.place(cell.corners)
        is_left, is_right = box[[0, 3], 0].max() < left - near, box[[1, 2], 0].min() > right + near
        if is_left or is_right:
            box += reach * np.sign(box - box.mean(axis=0))
            box[[0, 3], 0] = box[[0, 3], 0] if is_left else 0.0
            box[[1, 2], 0] = box[[1, 2], 0] if is_right else wide
            return replace(around, box=box)
    return around


def _cells_of(
    photo: NDArray[np.uint8], card: Quad | None, middle: tuple[float, float]
) -> list[Cell]:
    return [
        cell
        for cell in cells(photo, card)
        if cv2.pointPolygonTest(cell.corners.astype(np.float32), middle, measureDist=False) > 0
    ]


def _is_written(
    photo: NDArray[np.uint8],
    around: _Around,
    strip: tuple[Corners, Corners | None],
    told: list[Mark],
) -> bool:
    """Whether a line in the region is no print. strip: its corners and its print's. told: around
    lines known for print; those found are added."""
    region, card, known = around.region, around.card, tuple(told)
    corners, own_print = strip
    content = content_of(region, strip=corners)
    cards_own = None if card is None else region.plane.place(corners_of(_with_number(card)))
    pool = [mark for row in content.rows for mark in row] + [*content.left_over, *content.small]
    groups = [one for one in _groups(content.left_over) if _characters(one) >= _FEWEST]
    for whole in (*content.rows, *groups):
        row = [
            mark
            for mark in whole
            if mark[3] < min(_MOST_MM * PX_PER_MM, _UPRIGHT * mark[2])
            and not is_on(own_print, mark)
            and not is_on(cards_own, mark)
            and not any(_is_within(mark, one) for one in known)
        ]
        is_short = _characters(row) < _FEWEST
        # Once more without the rules, an arc of a postmark or half a letter is no writing.
        is_seen = not (is_short and known)
        is_high = bool(row) and is_seen and tall_of(row) > _PRINT_MM * PX_PER_MM
        is_higher = is_high and around.size * tall_of(row) > _PRINT_MM * PX_PER_MM
        if is_higher and not _is_high_print(photo, around, content, row, pool):
            return True
        if is_short and not is_high:
            continue
        line = cut_line(photo, region.plane, row, 0.0, content.painted, goes_on=True)
        if is_high or shared_reader().look(line.picture).kind != "print":
            row = put_together(row, pool, fitted(*middles(row))[0])
            if not are_words(photo, region, content, row, shared_reader()):
                return True
        told.append(_around_all(row))
    return False


def _is_high_print(
    photo: NDArray[np.uint8],
    around: _Around,
    content: Content,
    row: list[Mark],
    pool: Sequence[Mark],
) -> bool:
    """Whether a row too high for a caption is one whose letters ran together, heads and tails and
    all: then both the reader and the finder take it for print."""
    if around.size * tall_of(row) > _JOINED_PRINT_MM * PX_PER_MM:
        return False
    words = put_together(row, pool, fitted(*middles(row))[0])
    return are_words(photo, around.region, content, words, shared_reader()) and are_seen_printed(
        around.region, words
    )


def _characters(row: Sequence[Mark]) -> float:
    """About how many characters a row has: joined up ones are one mark."""
    least = LEAST_MM * PX_PER_MM
    return sum(
        max(1.0, mark[2] / mark[3])
        for mark in row
        if mark[3] >= least and mark[3] < _UPRIGHT * mark[2]
    )


def _around_all(row: Sequence[Mark]) -> Mark:
    left, top = min(m[0] for m in row), min(m[1] for m in row)
    wide, high = max(m[0] + m[2] for m in row) - left, max(m[1] + m[3] for m in row) - top
    return left, top, wide, high


def _is_within(mark: Mark, around: Mark) -> bool:
    x, y = mark[0] + mark[2] / 2, mark[1] + mark[3] / 2
    left, top, wide, high = around
    return left < x < left + wide and top < y < top + high


def _groups(marks: Sequence[Mark]) -> list[list[Mark]]:
    """Marks side by side that are too few, or too low, for a line."""
    groups: list[list[Mark]] = []
    for mark in sorted(marks):
        middle = mark[1] + mark[3] / 2
        group = next(
            (
                one for one in groups
                if mark[0] - one[-1][0] - one[-1][2] < _GAP * one[-1][3]
                and one[-1][1] < middle < one[-1][1] + one[-1][3]
            ),
            None,
        )  # fmt: skip
        if group is None:
            groups.append([mark])
        else:
            group.append(mark)
    return groups


def _with_number(card: Quad) -> Quad:
    a, b, c, d = corners_of(card)
    long = float(np.linalg.norm(b - a) + np.linalg.norm(c - d))
    half = 0.5 * float(np.linalg.norm(d - a) + np.linalg.norm(c - b)) / max(long, 1.0)
    return stretch(card, along=(-_OWN_ALONG, _OWN_ALONG), below=(-half - 0.02, half + _OWN_UNDER))


def is_on(place: Corners | None, mark: Mark) -> bool:
    """Whether a mark's middle lies in a polygon, (n, 2)."""
    if place is None:
        return False
    middle = (mark[0] + mark[2] / 2, mark[1] + mark[3] / 2)
    polygon = place.astype(np.float32).reshape(-1, 1, 2)
    return cv2.pointPolygonTest(polygon, middle, measureDist=False) >= 0

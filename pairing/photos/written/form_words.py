"""Words of the form's print beside a number: captions and footers, told by the reader.

Captions are set in letters of 1 to 2 mm, of which only the tallest count as marks
(`region.LEAST_MM`). So a word is put together from all its letters before the reader is asked:
of its tall ones alone neither a rule nor the reader can tell what it is.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.finder.print_seen import print_share
from pairing.photos.written.frame import Mark
from pairing.photos.written.ink_rows import fitted, middles, tall_of
from pairing.photos.written.reader import LINE_KINDS, Reader, WrittenLine
from pairing.photos.written.region import Content, Region
from pairing.photos.written.region_line import line_in

_SURELY = 0.98
"""Captions put together are taken for print with more than this; measured on right cards of
`tests.benchmarks.lost` (seeds 0 to 15 and 100 to 109) 0.998 and more."""
_LIKELY, _SEEN = 0.5, 0.98
"""Or with more than the first where the finder's near network sees print in so much of their ink:
short footers of hard photos have 0.78 and more of the reader, and all of the network's; words by
hand 0.003 at most, and up to 0.89 of the network's (`tests.benchmarks.lost`, seeds 2000 to 2031;
words written beside the number on seeds 2201 to 2209)."""
_LEAST_LONG = 3.8
"""In heights of its letters: of shorter words the reader is not told what they are (`MODEL.md`)."""
_LEAST_TURNS = 1.15
"""So often what lies on a level line through letters gets darker and lighter again, for each height
of theirs. Measured on captions of cards drawn by `tests.benchmarks.lost`, level hard, whose letters
run together: 1.4 and more; a pen's wave, a rule or an edge: up to 0.9."""
_TURN = 0.2
"""Of the range from paper to ink so much is a turn."""
_LEVELS = (0.35, 0.5, 0.65)
MOST_TALL = 1.2
"""In heights of the number's characters: letters that run together, with heads and tails."""
_NEXT, _LEVEL, _TALLER = 1.2, 0.7, 1.4
"""In heights of the tallest letter: the gap to the next one, how far off the word's middle it
stands, and how much taller it may be."""


def words_beside(
    photo: NDArray[np.uint8], region: Region, content: Content, number: list[Mark], reader: Reader
) -> list[list[Mark]]:
    """The words of the form's print among what is not in the number's line. Nothing that can be
    read as characters of a number is one. photo: gray (h, w) uint8, from which the region was laid
    flat."""
    slope, _ = fitted(*middles(number))
    others = [row for row in content.rows if not _is_of(row[0], number)]
    seeds = others + [[mark] for mark in content.left_over if not _is_of(mark, number)]
    pool = [mark for seed in seeds for mark in seed] + list(content.small)
    found: list[list[Mark]] = []
    asked: set[int] = set()
    tall = tall_of(number)
    for seed in seeds:
        # A frame beside the line would draw in all that is level with it.
        if id(seed[0]) in asked or max(mark[3] for mark in seed) > MOST_TALL * tall:
            continue
        words = put_together(seed, pool, slope)
        asked |= {id(mark) for mark in words}
        if are_words(photo, region, content, words, reader):
            found.append(words)
    return found


def are_words(
    photo: NDArray[np.uint8], region: Region, content: Content, marks: list[Mark], reader: Reader
) -> bool:
    """Whether marks on one level are words that the reader surely takes for the form's print, and
    in which it reads no number."""
    if not _are_letters(marks, content):
        return False
    line = line_in(photo, region, content, marks)
    look = reader.look(line.picture)
    chance = float(look.kinds[LINE_KINDS.index("print")])
    if chance < _LIKELY or WrittenLine([look.chances]).best:
        return False
    return chance > _SURELY or are_seen_printed(region, marks)


def are_seen_printed(region: Region, marks: Sequence[Mark]) -> bool:
    """Whether the finder, too, takes marks for print."""
    return print_share(region.plane.gray, marks) > _SEEN


def _is_of(mark: Mark, row: Sequence[Mark]) -> bool:
    return any(mark is other for other in row)


def put_together(seed: list[Mark], pool: Sequence[Mark], slope: float) -> list[Mark]:
    """A row of marks with the letters before, between and after them on its level."""
    tall = max(mark[3] for mark in seed)
    level = float(np.median([_height(mark, slope) for mark in seed]))
    left = [
        mark for mark in pool
        if not _is_of(mark, seed) and mark[3] < _TALLER * tall
        and abs(_height(mark, slope) - level) < _LEVEL * tall
    ]  # fmt: skip
    words = list(seed)
    while True:
        first, last = min(m[0] for m in words), max(m[0] + m[2] for m in words)
        near = [m for m in left if max(m[0] - last, first - m[0] - m[2]) < _NEXT * tall]
        if not near:
            return sorted(words)
        words += near
        left = [m for m in left if not _is_of(m, near)]


def _height(mark: Mark, slope: float) -> float:
    return mark[1] + mark[3] / 2 - slope * (mark[0] + mark[2] / 2)


def _are_letters(words: list[Mark], content: Content) -> bool:
    """Whether marks could be words: long enough, and of many strokes."""
    tall = tall_of(words)
    slope, _ = fitted(*middles(words))
    first, last = min(m[0] for m in words), max(m[0] + m[2] for m in words)
    if last - first < _LEAST_LONG * tall:
        return False
    foot = float(np.median([m[1] + m[3] - slope * (m[0] + m[2] / 2) for m in words]))
    columns = np.arange(int(first), int(last))
    soft = cv2.GaussianBlur(content.clean, (0, 0), 0.8)
    turns = []
    for level in _LEVELS:
        rows = np.round(foot - level * tall + slope * columns).astype(int)
        turns.append(_turns(soft[np.clip(rows, 0, soft.shape[0] - 1), columns].astype(np.float64)))
    return float(np.median(turns)) > _LEAST_TURNS * (last - first) / tall


def _turns(grays: NDArray[np.float64]) -> int:
    """How often gray values fall, and rise again, by a turn."""
    light, dark = np.percentile(grays, (95, 2))
    least = _TURN * float(light - dark)
    many, extreme, is_falling = 0, float(grays[0]), True
    for gray in grays.tolist():
        if is_falling:
            extreme = min(extreme, gray)
            if gray > extreme + least:
                many, is_falling, extreme = many + 1, False, gray
        else:
            extreme = max(extreme, gray)
            if gray < extreme - least:
                is_falling, extreme = True, gray
    return many

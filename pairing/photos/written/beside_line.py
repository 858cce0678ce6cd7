"""What is written beside a number on a card of no known form: the form's words, or more."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pairing.judge.box import Unread
from pairing.photos.written.comb_ticks import comb_ticks
from pairing.photos.written.form_words import MOST_TALL, are_seen_printed, words_beside
from pairing.photos.written.frame import Mark
from pairing.photos.written.ink_rows import fitted, middles, tall_of
from pairing.photos.written.reader import Reader
from pairing.photos.written.region import Content, Region

_CAPTION = 0.95
"""In heights of the number's characters: form print beside it is lower, unless the finder sees it
for print too."""
_BESIDE = 1.6
"""In heights of the line's characters: what is so near above or below the number, on paper without
rules, has to do with it."""


def written_beside(  # noqa: PLR0913 - a line, and what is around it in its photo
    photo: NDArray[np.uint8],
    region: Region,
    content: Content,
    row: list[Mark],
    reader: Reader,
    *,
    is_cell: bool,
) -> Unread | None:
    """`Unread.OTHER_WRITING` where anything beside the line is not words of the form's print, lower
    than its characters; None for no such thing."""
    tall = tall_of(row)
    slope, at = fitted(*middles(row))
    left, right = min(m[0] for m in row), max(m[0] + m[2] for m in row)

    def is_near(mark: Mark) -> bool:
        middle = at + slope * (mark[0] + mark[2] / 2)
        off = max(0.0, mark[1] - middle, middle - mark[1] - mark[3])
        is_level = mark[0] < right + tall and mark[0] + mark[2] > left - tall
        return is_cell or (is_level and off < _BESIDE * tall)

    others = [mark for other in content.rows if other is not row for mark in other]
    near = [mark for mark in (*others, *content.left_over) if is_near(mark)]
    if not near:
        return None
    every = (*others, *content.left_over, *content.small)
    printed = {id(mark) for mark in comb_ticks(every, slope)}
    if all(id(mark) in printed for mark in near):
        return None
    words = words_beside(photo, region, content, row, reader)
    printed |= {
        id(mark)
        for one in words
        if tall_of(one) < _CAPTION * tall
        or (tall_of(one) < MOST_TALL * tall and are_seen_printed(region, one))
        for mark in one
    }
    return None if all(id(mark) in printed for mark in near) else Unread.OTHER_WRITING

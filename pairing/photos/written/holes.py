"""Digits that enclose more paper than digits do: another one was written over them.

A 6 or a 9 encloses one piece of paper, an 8 two, others none or a small one where a loop closes,
and none has a mark in it. A 0 encloses two where it is slashed, or has a dot, as some people make
all of theirs: where one of a number's zeros is so and another is not, a 1 or a stroke was put in.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.numbers.text import is_digits
from pairing.photos.written.box_lines import Line
from pairing.photos.written.frame import Mark, ink_in
from pairing.photos.written.ink_rows import tall_of
from pairing.photos.written.reader import WrittenLine

_MOST = {"1": 0, "8": 2}
"""How many pieces of paper a digit encloses at most; 1 where nothing is said."""
_LEAST = 0.04
"""Of a digit's rectangle: smaller pieces lie where strokes run together. Measured on 5,000 of each
digit by 485 people (`training.glyphs`' MNIST writers, its test's left out): a piece too many has
this size in 6 of 10,000 twos, 4 sixes, 2 eights, 9 nines and none of the others; so one number of
22 digits in 200 is lost."""
_PARTED_LEAST, _PARTED = 0.01, 0.5
"""A 0 is parted where its second piece is at least half its first. On the same people's digits 4
zeros in 1,000 are, and 9 in 1,000 numbers with three zeros have one that is and one that is not."""
_MORE = 1.15
_UPRIGHT = 0.5
"""Of the parts' distance, across and down in shares of the digit's width and height: the slash of a
0 lies aslant, so that one part is above the other."""
_CHARACTER = 0.6
_WIDEST = 1.3
"""In the line's height, and in its own: a mark of one character."""


def is_written_over(line: Line, ink: NDArray[np.uint8], row: list[Mark], read: WrittenLine) -> bool:
    """Whether a digit that stands by itself encloses more paper than it may, in a number by hand:
    print, whose holes are small, is blurred into more. ink: the plane that the row's marks are in.
    """
    if line.is_even or not is_digits(read.best):
        return False
    first, scale = line.row_px
    places = np.array([(a + b) / 2 for a, b in read.spans_px]) * scale + first
    parted: list[float] = []
    whole: list[float] = []
    for mark in row:
        inside = np.flatnonzero((places >= mark[0]) & (places <= mark[0] + mark[2]))
        is_one = mark[3] > _CHARACTER * tall_of(row) and mark[2] < _WIDEST * mark[3]
        if len(inside) != 1 or not is_one:
            continue
        digit, found = read.best[int(inside[0])], enclosed(ink, mark)
        if digit == "0":
            paper = sum(found.shares[:2]) if not found.is_marked else 0.0
            (parted if found.is_parted else whole).append(paper)
        if found.is_parted_upright if digit == "0" else found.is_more_than(_MOST.get(digit, 1)):
            return True
    # One part of a slashed 0 may be closed by blur: what is whole has more paper than both.
    return bool(parted) and max(whole, default=0.0) > _MORE * max(parted)


@dataclass(frozen=True, slots=True, kw_only=True)
class Enclosed:
    """The pieces of paper that a mark encloses, the largest first. shares: of its rectangle.
    middles: where they are in it, (n, 2) in shares of its width and height. is_marked: whether
    another mark lies in one of them."""

    shares: tuple[float, ...]
    middles: NDArray[np.float64]
    is_marked: bool

    def is_more_than(self, most: int) -> bool:
        """Whether there are more pieces than that, of a size that counts, or something in one."""
        return self.is_marked or (len(self.shares) > most and self.shares[most] > _LEAST)

    @property
    def is_parted(self) -> bool:
        """Whether something parts it in two, or lies in it."""
        if self.is_marked or len(self.shares) < 2:
            return self.is_marked
        return self.shares[1] > max(_PARTED_LEAST, _PARTED * self.shares[0])

    @property
    def is_parted_upright(self) -> bool:
        """Whether the two parts are side by side, as a 1 makes them and a slash does not."""
        if not self.is_parted or len(self.shares) < 2:
            return False
        wide, high = np.abs(self.middles[1] - self.middles[0])
        return bool(high < _UPRIGHT * wide)


def enclosed(ink: NDArray[np.uint8], mark: Mark) -> Enclosed:
    """What a mark encloses."""
    left, top, wide, high = (round(v) for v in mark)
    part = ink[top : top + high, left : left + wide]
    paper = np.pad((~ink_in(ink, mark)).astype(np.uint8), 1, constant_values=1)
    _, pieces, stats, middles = cv2.connectedComponentsWithStats(paper, connectivity=4)
    inner = [at for at in range(1, len(stats)) if at != pieces[0, 0]]
    inner.sort(key=lambda at: -int(stats[at][4]))
    within = np.isin(pieces[1:-1, 1:-1], inner) & (part > 0)
    return Enclosed(
        shares=tuple(float(stats[at][4]) / (wide * high) for at in inner),
        middles=np.asarray(middles[inner], np.float64) / (wide, high),
        is_marked=float(within.sum()) > _PARTED_LEAST * wide * high,
    )

"""What is written in the box: one number, or the reason why none could be taken from it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pairing.judge.box import Unread
from pairing.model import Quad
from pairing.numbers.text import is_digits
from pairing.photos.written.box_lines import Line, lines_in_box
from pairing.photos.written.frame import Mark
from pairing.photos.written.holes import is_written_over
from pairing.photos.written.ink_rows import tall_of
from pairing.photos.written.inks import Colors, colorless, is_of_two_inks
from pairing.photos.written.postmark import without_postmark
from pairing.photos.written.printed_line import line_under
from pairing.photos.written.reader import Look, Reader, WrittenLine
from pairing.photos.written.region import Content, Region, content_of
from pairing.photos.written.region_line import is_bared, line_in, without_rules
from pairing.photos.written.strokes import longest_stroke
from pairing.photos.written.struck_characters import BARRED, barred_marks, is_struck_through

FEWEST = 6
"""Fewer characters are no number (`judge.verdict.FEWEST_DIGITS`)."""
SHORTEST = 10
"""A text this short is a number of 13 characters (UPU S10, the shortest one) without a group, or
none at all: a date, a word."""
LONGEST = 26
"""A number has at most this many characters without its routing (Pub 199: 34 with it)."""
LEAST_SURE = 0.1
"""A best text less likely than this is a guess at something else, such as a name. Measured:
of 1,500 held-out numbers at levels 0 to 3 8 in 1,000 are less likely, and those are unread."""
_LEAST_CHARACTER = 0.45
"""In heights of the line's characters: lower marks are dots, dashes and parts of characters."""
_MOST_JOINED = 3
"""Of more characters that touch it is not told what goes through one."""
_ASTRAY = 0.75
"""A mark whose nearest character is farther off, in distances between characters, is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxReading:
    """line: the number as a distribution over texts, None where there is a `reason`.
    lines: the lines of writing found, from the top. used: those that the number is written in.
    bare: the photo without the form's rules where they were left out at the number (`is_bared`);
    None elsewhere.
    """

    line: WrittenLine | None
    reason: Unread | None
    lines: tuple[Line, ...]
    used: tuple[Line, ...]
    bare: NDArray[np.uint8] | None = None


def read_box(photo: NDArray[np.uint8], card_bars: Quad, reader: Reader) -> BoxReading:
    """Read the box below the card's own barcode, blind. photo: gray (h, w) uint8."""
    return _read(lines_in_box(photo, card_bars), reader)


def read_region(
    photo: NDArray[np.uint8], region: Region, reader: Reader, color: Colors = colorless
) -> BoxReading:
    """Read a box whose place is known, blind; what is not accounted for leaves it unread.
    photo: gray (h, w) uint8, the one that the region was laid flat from. color: the photo's color,
    as `files.Frame.color`."""
    content = without_postmark(photo, region, content_of(region))
    lines = tuple(line_in(photo, region, content, row) for row in content.rows)

    def none(reason: Unread) -> BoxReading:
        return BoxReading(line=None, reason=reason, lines=lines, used=())

    if content.is_covered:
        return none(Unread.CUT)
    if content.has_bars:
        return none(Unread.BARS_UNREAD)
    if not lines:
        return none(Unread.NO_NUMBER if content.left_over else Unread.EMPTY)
    if content.left_over:
        return none(Unread.OTHER_WRITING)
    if content.is_cut:
        return none(Unread.CUT)
    reading = _read(lines, reader)
    if reading.line is None:
        return reading
    is_print = all(line.is_even for line in lines)
    strokes = [longest_stroke(content.clean, content.ink, row) for row in content.rows]
    if any(stroke.is_through(is_print=is_print) for stroke in strokes):
        return none(Unread.STRUCK)
    if len(lines) == 1 and is_digit_struck(lines[0], content, reading.line):
        return none(Unread.STRUCK)
    if len(lines) == 1 and not is_all_read(lines[0], content.rows[0], reading.line):
        return none(Unread.OTHER_WRITING)
    colored = color()
    if any(is_of_two_inks(colored, region, content, row) for row in content.rows):
        return none(Unread.OTHER_WRITING)
    if any(is_bared(content, row) for row in content.rows):
        return replace(reading, bare=without_rules(photo, region, content))
    return reading


def is_digit_struck(line: Line, content: Content, read: WrittenLine) -> bool:
    """Whether a stroke goes through a digit from side to side that has none of its own, or another
    digit was written over one."""
    if not is_digits(read.best):
        return False
    if is_written_over(line, content.ink, content.rows[0], read):
        return True
    middles = np.array([(a + b) / 2 for a, b in read.spans_px])
    first, scale = line.row_px
    for left, _, wide, _ in barred_marks(content.ink, content.rows[0]):
        nearest = int(np.abs(middles - (left + wide / 2 - first) / scale).argmin())
        if read.best[nearest] not in BARRED:
            return True
    if len(middles) < 2 or line.is_even:
        # In a blurred photo print runs together from digit to digit.
        return False
    pitch = float(np.median(np.diff(middles))) * scale
    ink, row = content.ink, content.rows[0]
    places = middles * scale + first
    for at, digit in enumerate(read.best):
        mark = next((m for m in row if m[0] <= places[at] <= m[0] + m[2]), None)
        if mark is None or digit == "4":
            continue
        joined = np.flatnonzero((places >= mark[0]) & (places <= mark[0] + mark[2])).tolist()
        # Of many, run together in the photo, it is not told; a 4's own stroke may join the next.
        if len(joined) > _MOST_JOINED or any(read.best[other] == "4" for other in joined):
            continue
        if is_struck_through(ink, row, float(places[at]), pitch, is_seven=digit == "7"):
            return True
    return False


def is_all_read(line: Line, row: Sequence[Mark], read: WrittenLine) -> bool:
    """Whether each mark of the line is where a character was read: a word after the number is
    not, nor is a character that was scribbled over and passed by."""
    middles = np.array([(a + b) / 2 for a, b in read.spans_px])
    if len(middles) < 2:
        return False
    if not is_digits(read.best):
        # The network tells an S10 number's letters at the line's ends, wherever they are written.
        return True
    pitch = float(np.median(np.diff(middles)))
    first, scale = line.row_px
    for left, _, wide, high in row:
        if high < _LEAST_CHARACTER * tall_of(list(row)):
            continue
        here = [(left - first) / scale, (left + wide - first) / scale]
        near = np.maximum(0, np.maximum(here[0] - middles, middles - here[1]))
        if near.min() > _ASTRAY * pitch:
            return False
    return True


def read_label_print(photo: NDArray[np.uint8], bars: Quad, reader: Reader) -> BoxReading:
    """Read the number printed under a label's or a strip's bars, blind."""
    line = line_under(photo, bars)
    return _read((line,) if line else (), reader)


def digit_quads(reading: BoxReading) -> tuple[Quad, ...]:
    """Each character's place in the photo; () unless the number is in one line."""
    if reading.line is None or len(reading.used) != 1:
        return ()
    return tuple(reading.used[0].quad(*span) for span in reading.line.spans_px)


def _read(lines: tuple[Line, ...], reader: Reader) -> BoxReading:
    def none(reason: Unread) -> BoxReading:
        return BoxReading(line=None, reason=reason, lines=lines, used=())

    if not lines:
        return none(Unread.EMPTY)
    if any(line.is_by_label for line in lines):
        return none(Unread.OTHER_WRITING)
    if any(line.is_cut for line in lines):
        return none(Unread.CUT)
    looks = [reader.look(line.picture) for line in lines]
    texts = [WrittenLine([look.chances], [look.blots]) for look in looks]
    numbers = [index for index, text in enumerate(texts) if len(text.best) >= FEWEST]
    if not numbers:
        return none(Unread.NO_NUMBER)
    refused = [looks[index] for index in numbers if not looks[index].is_number]
    if refused:
        is_altered = any(look.is_altered for look in refused)
        return none(Unread.OTHER_WRITING if is_altered else Unread.NO_NUMBER)
    if len(numbers) == 2 and len(lines) == 2:
        whole = _joined(texts, looks)
        if whole is not None and whole.log_any >= math.log(LEAST_SURE):
            return BoxReading(line=whole, reason=None, lines=lines, used=lines)
    if len(numbers) > 1:
        return none(Unread.SEVERAL)
    if len(lines) > 1:
        return none(Unread.OTHER_WRITING)
    read = texts[numbers[0]]
    if read.log_any < math.log(LEAST_SURE) or len(read.best) < SHORTEST:
        return none(Unread.NO_NUMBER)
    return BoxReading(line=read, reason=None, lines=lines, used=(lines[numbers[0]],))


def _joined(
    texts: Sequence[WrittenLine],
    looks: Sequence[Look],
) -> WrittenLine | None:
    """One number written in two lines: neither is long enough by itself."""
    lengths = [len(text.best) for text in texts]
    if max(lengths) > 18 or sum(lengths) > LONGEST:
        return None
    chances = np.concatenate([look.chances for look in looks])
    return WrittenLine([chances], [np.concatenate([look.blots for look in looks])])

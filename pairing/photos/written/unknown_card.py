"""A card of no known form: a number is taken from it only if it is the one line, in the one
place, that can be the number.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.judge.box import Unread
from pairing.model import Quad
from pairing.numbers import MODULES
from pairing.photos.finder.number_lines import Proposal, proposals
from pairing.photos.written.beside_line import written_beside
from pairing.photos.written.box import (
    LEAST_SURE,
    BoxReading,
    is_all_read,
    is_digit_struck,
)
from pairing.photos.written.box_lines import Line
from pairing.photos.written.faint_ends import goes_on_faintly
from pairing.photos.written.frame import Mark
from pairing.photos.written.ink_rows import tall_of
from pairing.photos.written.inks import Colors, colorless, is_changed
from pairing.photos.written.plane import PX_PER_MM, corners_of
from pairing.photos.written.postmark import without_postmark
from pairing.photos.written.proposed_line import is_line_altered, proposed_region
from pairing.photos.written.reader import Look, Reader, WrittenLine
from pairing.photos.written.region import Content, Region, content_of, is_cut
from pairing.photos.written.region_line import (
    is_lifted,
    is_ruled_through,
    line_in,
    without_rules,
)
from pairing.photos.written.ruled_cells import (
    Cell,
    cell_region,
    cells,
    is_ruled,
    middle_of,
    open_regions,
    regions_across,
)
from pairing.photos.written.strokes import longest_stroke

LENGTHS = frozenset(n for name, module in MODULES.items() if name not in ("sscc", "routing")
                    for n in module.FAMILY.lengths)  # fmt: skip
"""How long the numbers of articles and of cards are."""
_FEWEST_MARKS, _FEWEST_GROUPS = 7, 5
"""A number has at least 13 characters; two or three of them may touch, and those of a group."""
_TALL_MM = (1.6, 9.5)
_LEAST_LONG = 4.5
"""In heights of the line's characters: 13 of them are longer, be they narrow and close."""
_WORD_GAP = 2.5
"""In heights of the line's characters: a wider gap parts it from the next column's words."""
_MORE = 1.9
"""In the same: what is taller is a frame that the line touches (`region._MOST_TALL`)."""
_LEAST_BEST = math.log(0.3)
"""A text less likely than this may be a word: nothing is told by its place."""
_SAME_MM = 3.0
_FAR_SURER = 2.3
"""Ten times as likely: writing seen upside down is read too, but never surely."""
_LEAST_PX = 100
"""In a smaller picture no writing can be read."""
_NEAR_OWN = 3
"""A text that differs from the card's own number in no more characters is that number, read
badly."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A line that could be the number: where it is in the photo, and what was read. bare: makes the
    photo without the rules that were lifted off the line; None where none were. is_changed: asked
    with the photo's color."""

    line: Line
    read: WrittenLine
    middle: NDArray[np.float64]
    mm_px: float
    look: Look
    reason: Unread | None
    bare: Callable[[], NDArray[np.uint8]] | None = None
    is_changed: Callable[[NDArray[np.uint8] | None], bool] = lambda _: False


def read_unknown(
    photo: NDArray[np.uint8],
    bars: Quad | None,
    own: str,
    reader: Reader,
    color: Colors = colorless,
) -> BoxReading:
    """What is written on a card of no known form. bars: its own barcode; own: its own number,
    which is never the box's. color: as `files.Frame.color`. `Unread.FORM_UNKNOWN` unless exactly
    one line can be it."""
    if min(photo.shape) < _LEAST_PX:
        return BoxReading(line=None, reason=Unread.FORM_UNKNOWN, lines=(), used=())
    found: list[Candidate] = []
    enclosed = cells(photo, bars)
    for region in filter(is_ruled, (cell_region(photo, cell) for cell in enclosed)):
        _add(found, _candidates(photo, region, reader, is_cell=True), bars, own)
    proposed = proposals(photo, None if bars is None else corners_of(bars))
    # What is at a line that was found whole before has no say against that one's reasons.
    whole = [one for one in found if one.reason is not Unread.CUT]
    _add(found, _proposed(photo, proposed, reader, whole), bars, own)
    # Paper of which nothing is known but that it is around the bars: its rules cross what is there.
    for places in (open_regions, regions_across):
        if bars is None or found:
            break
        for region in places(photo, bars):
            free = partial(_is_in_none, cells=enclosed)
            read = _candidates(photo, region, reader, is_cell=False, is_wanted=free)
            _add(found, read, bars, own)
    lines = tuple(one.line for one in found)
    if len(found) != 1:
        return BoxReading(line=None, reason=Unread.FORM_UNKNOWN, lines=lines, used=())
    (only,) = found
    reason = only.reason or (Unread.STRUCK if _is_altered(photo, only, bars, proposed) else None)
    if reason is None and only.is_changed(color()):
        reason = Unread.OTHER_WRITING
    if reason is not None:
        return BoxReading(line=None, reason=reason, lines=lines, used=())
    return BoxReading(line=only.read, reason=None, lines=lines, used=lines)


def _is_altered(
    photo: NDArray[np.uint8], one: Candidate, bars: Quad | None, proposed: Sequence[Proposal]
) -> bool:
    """Whether the finder sees the line altered, and without the form's rules still does."""
    if not is_line_altered(photo, one.line, one.look, proposed):
        return False
    if one.bare is None:
        return True
    bare = one.bare()
    again = proposals(bare, None if bars is None else corners_of(bars))
    return is_line_altered(bare, one.line, one.look, again)


def _proposed(
    photo: NDArray[np.uint8],
    proposed: Sequence[Proposal],
    reader: Reader,
    known: Sequence[Candidate],
) -> list[Candidate]:
    """The candidates in lines that the finder proposes, but for those known."""
    found: list[Candidate] = []

    def is_new(one: Proposal, middle: NDArray[np.float64], mm_px: float) -> bool:
        return _is_on(middle, one.corners) and not any(
            _is_near(middle, other.middle, mm_px) for other in (*known, *found)
        )

    for one in proposed:
        region, new = proposed_region(photo, one), partial(is_new, one)
        found += _candidates(photo, region, reader, is_cell=False, is_wanted=new)
    return found


def _candidates(
    photo: NDArray[np.uint8],
    region: Region,
    reader: Reader,
    *,
    is_cell: bool,
    is_wanted: Callable[[NDArray[np.float64], float], bool] | None = None,
) -> list[Candidate]:
    """The lines in a region that could be the number. is_wanted: asked of a line's middle in the
    photo, and of its px a mm, before anything costly."""
    content = without_postmark(photo, region, content_of(region))
    rows = content.rows if is_cell else tuple(part for row in content.rows for part in _parted(row))
    content = replace(content, rows=rows)
    found, mm_px = [], region.plane.scale * PX_PER_MM
    for row in rows:
        middle = middle_of(region, [mark for mark in row if mark[3] < _MORE * tall_of(row)])
        if not _has_room(row) or (is_wanted is not None and not is_wanted(middle, mm_px)):
            continue
        line = line_in(photo, region, content, row)
        look = reader.look(line.picture)
        if not look.is_number and not look.is_altered:
            continue
        if not _is_number(read := WrittenLine([look.chances], [look.blots])):
            continue
        bare = partial(without_rules, photo, region, content) if is_lifted(content, row) else None
        found.append(
            Candidate(
                line=line,
                read=read,
                middle=middle,
                mm_px=mm_px,
                look=look,
                reason=_against(region, content, row, line, read)
                or written_beside(photo, region, content, row, reader, is_cell=is_cell)
                or (None if look.is_number else Unread.OTHER_WRITING),
                bare=bare,
                is_changed=partial(is_changed, region=region, content=content, row=row),
            )
        )
    return found


def _parted(row: list[Mark]) -> list[list[Mark]]:
    """A row's parts between wide gaps: on paper without rules the words of the next column are
    on its level."""
    gap = _WORD_GAP * tall_of(row)
    parts: list[list[Mark]] = []
    for mark in sorted(row):
        if parts and mark[0] - max(m[0] + m[2] for m in parts[-1]) < gap:
            parts[-1].append(mark)
        else:
            parts.append([mark])
    return parts


def _against(
    region: Region, content: Content, row: list[Mark], line: Line, read: WrittenLine
) -> Unread | None:
    """Why the line may not be taken, though it is a number; None for no reason."""
    if content.has_bars:
        return Unread.BARS_UNREAD
    if is_ruled_through(region, row):
        return Unread.STRUCK
    if is_cut(row, content.ink) or goes_on_faintly(content.clean, row):
        return Unread.CUT
    content = replace(content, rows=(row,))
    stroke = longest_stroke(content.clean, content.ink, row)
    if stroke.is_through(is_print=line.is_even) or is_digit_struck(line, content, read):
        return Unread.STRUCK
    return None if is_all_read(line, row, read) else Unread.OTHER_WRITING


def _is_own(one: Candidate, bars: Quad | None, own: str) -> bool:
    """Whether a line is the card's own printed number, well or badly read."""
    if not own or bars is None:
        return False
    text = one.read.best
    if text == own:
        return True
    off = sum(a != b for a, b in zip(text, own, strict=False))
    return len(text) == len(own) and off <= _NEAR_OWN


def _is_number(read: WrittenLine) -> bool:
    is_number = len(read.best) in LENGTHS and read.log_any >= math.log(LEAST_SURE)
    return is_number and read.log_likelihood(read.best) >= _LEAST_BEST


def _has_room(row: list[Mark]) -> bool:
    """Whether a row could be a number by its size."""
    tall, wide = tall_of(row), max(m[0] + m[2] for m in row) - min(m[0] for m in row)
    is_sized = _TALL_MM[0] < tall / PX_PER_MM < _TALL_MM[1] and wide > _LEAST_LONG * tall
    # Groups of print run together in a blurred photo.
    characters = sum(max(1.0, mark[2] / mark[3]) for mark in row)
    return is_sized and len(row) >= _FEWEST_GROUPS and characters >= _FEWEST_MARKS


def _is_in_none(middle: NDArray[np.float64], _: float, *, cells: Sequence[Cell]) -> bool:
    return not any(_is_on(middle, cell.corners) for cell in cells)


def _is_on(middle: NDArray[np.float64], corners: NDArray[np.float64]) -> bool:
    around = corners.astype(np.float32).reshape(-1, 1, 2)
    x, y = middle[0]
    return cv2.pointPolygonTest(around, (float(x), float(y)), False) >= 0


def _add(found: list[Candidate], read: Sequence[Candidate], bars: Quad | None, own: str) -> None:
    """Add what is no known line; of one line read in two ways the far surer reading stays."""
    for one in read:
        if _is_own(one, bars, own):
            continue
        at = next(
            (at for at, other in enumerate(found) if _is_near(one.middle, other.middle, one.mm_px)),
            None,
        )
        if at is None:
            found.append(one)
            continue
        if Unread.CUT in (one.reason, found[at].reason):
            # Where one region cuts a line, the other one shows the whole of it.
            found[at] = found[at] if one.reason is Unread.CUT else one
            continue
        here, there = (c.read.log_likelihood(c.read.best) for c in (one, found[at]))
        if one.read.best == found[at].read.best or there - here > _FAR_SURER:
            continue
        is_surer = here - there > _FAR_SURER
        found[at] = one if is_surer else replace(one, reason=Unread.FORM_UNKNOWN)


def _is_near(middle: NDArray[np.float64], other: NDArray[np.float64], mm_px: float) -> bool:
    """Whether the same line was found before, in another region."""
    return float(np.linalg.norm(middle - other)) < _SAME_MM * mm_px

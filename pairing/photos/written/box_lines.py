"""Lines of writing below a barcode: found by their marks, cut out level and scaled.

All sizes are in lengths of the barcode above (about 52 mm for a card's 22 digits) unless
they say px. Common practice, no source: a form's captions are set in 2 to 2.5 mm, people
write digits of 3 to 6 mm in such a box.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.written.faint_ends import goes_on_faintly
from pairing.photos.written.frame import (
    Frame,
    Mark,
    Rules,
    bare_rules,
    crossing,
    frame_of,
    ink_of,
    parts_of,
    rules_of,
    slope_of,
    struck_out,
    without_rules,
)
from pairing.photos.written.ink_rows import fitted, is_even, middles, rows_of, run_on, tall_of
from pairing.photos.written.plane import (
    BARS_PX,
    Plane,
    beneath,
    cut,
    mapped,
    quad_of,
    rectangle,
    turned,
)
from pairing.photos.written.reader import HIGH_PX, WIDE_PX

BOX_ALONG, BOX_BELOW = (-0.75, 1.05), (0.08, 0.62)
"""Where the box may lie (see `photos.card`)."""
UNFRAMED_BELOW = (0.19, 0.52)
"""Without a frame, lines whose middle lies here are the box's: under the printed number."""
_DIGIT_PX = 21.0
"""Height of the digits in the line that is cut out, of 32 px."""
_LEAST_MARK, _MOST_MARK = 0.026, 0.17
_LEAST_SHARE = 0.12
"""Of its surrounding rectangle a mark fills at least this; corners of a frame fill less."""
_LEVEL = 0.012
_TALL_BAR, _FEWEST_BARS = 0.2, 12
"""10 mm, a little less than a label's bars are high. A number of 20 digits has 40 of them: 12
characters of three and the stop of four (ISO/IEC 15417)."""
_MARGIN_PX, _INKED_PX = 14, 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of writing. picture: (32, 640) uint8, level, ready to be read.
    to_photo: the (3, 3) homography from the picture's px to the photo's.
    marks: how many separate marks it has. wide, high, middle: in lengths of the barcode.
    is_even: the marks are as even as only print is. is_by_label: bars as tall as a label's
    are near it, so that it may be the label's own print. is_over_edge: it goes over the
    box's rules, parts of which were painted over to read it. is_cut: it may be a part of what
    is there, so that nothing may be concluded from it. row_px: where the picture's first
    column lies in the plane that the marks were found in, and how many of its px one column is."""

    picture: NDArray[np.uint8]
    to_photo: NDArray[np.float64]
    marks: int
    wide: float
    high: float
    middle: float
    is_even: bool
    is_by_label: bool = False
    is_over_edge: bool = False
    is_cut: bool = False
    row_px: tuple[float, float] = (0.0, 1.0)

    def quad(self, from_px: float = 0.0, to_px: float = float(WIDE_PX)) -> Quad:
        """Where a stretch of the line lies in the photo."""
        corners = rectangle(from_px, 0.0, to_px - from_px, float(HIGH_PX))
        return quad_of(mapped(self.to_photo, corners))

    def inked(self) -> Quad:
        """Where its first to its last mark lies in the photo."""
        end = _MARGIN_PX + self.wide * BARS_PX / self.row_px[1]
        return self.quad(_MARGIN_PX - _INKED_PX, end + _INKED_PX)


def lines_in_box(photo: NDArray[np.uint8], card_bars: Quad) -> tuple[Line, ...]:
    """The lines of writing in the box below the card's own barcode, from the top; () for an
    empty box. photo: gray (h, w) uint8."""
    plane, ink, rules, frame = _box_below(photo, card_bars)
    over = crossing(ink, rules)
    every = marks_of(without_rules(ink, rules) | over, frame)
    inside = [m for m in every if frame.holds(m) and not _is_side(m, frame)]
    beyond = [m for m in every if not frame.holds(m) and not _is_side(m, frame)]
    rows = rows_of(inside + struck_out(ink, rules, frame))
    bare = bare_rules(rules, over, frame)
    is_by_label = _has_tall_bars(ink)
    rows = [run_on(row, beyond) for row in rows]
    return tuple(
        replace(
            cut_line(photo, plane, row, BOX_BELOW[0], bare),
            is_by_label=is_by_label,
            is_over_edge=any(frame.is_crossed_by(mark) for mark in row),
            is_cut=goes_on_faintly(plane.gray, row),
        )
        for row in rows
    )


def is_beside_box(photo: NDArray[np.uint8], card_bars: Quad, strip: Quad) -> bool:
    """Whether a strip lies above or below the box whose rules are seen under the card's own
    barcode: on other paper, such as a label over which the card lies. False without rules,
    which a strip may cover."""
    plane, _, _, frame = _box_below(photo, card_bars)
    if not frame.is_ruled:
        return False
    ((_, row),) = plane.place(np.array([strip.center]))
    return not frame.top < row < frame.foot


def _box_below(
    photo: NDArray[np.uint8], card_bars: Quad
) -> tuple[Plane, NDArray[np.uint8], Rules, Frame]:
    """The stretch of paper that the box is looked for in, its ink, its rules, and the box."""
    plane = beneath(photo, card_bars, along=BOX_ALONG, below=BOX_BELOW)
    ink = ink_of(plane.gray)
    rules = rules_of(ink)
    slope = slope_of(rules)
    if abs(slope) > _LEVEL:
        # A barcode's corners are told to a bar's height or so; the form's rules know better.
        level = turned(card_bars, slope)
        plane = beneath(photo, level, along=BOX_ALONG, below=BOX_BELOW)
        ink = ink_of(plane.gray)
        rules = rules_of(ink)
    first, last = (round((y - BOX_BELOW[0]) * BARS_PX) for y in UNFRAMED_BELOW)
    return plane, ink, rules, frame_of(rules, unframed=(first, last))


def _has_tall_bars(ink: NDArray[np.uint8]) -> bool:
    """Whether a label's bars are in the plane: at least 12.5 mm high (UPU S10-12 section 8;
    0.5 in, BCOCA), which no strip's are."""
    least = _TALL_BAR * BARS_PX
    tall = [1 for _, _, wide, high, _ in parts_of(ink) if high > least and wide < 0.2 * high]
    return len(tall) >= _FEWEST_BARS


def _is_side(mark: Mark, frame: Frame) -> bool:
    """Whether a mark is what is left of the frame's side: thin and nearly as high."""
    return frame.is_ruled and mark[3] > 0.7 * (frame.foot - frame.top) and mark[2] < 0.3 * mark[3]


def marks_of(ink: NDArray[np.uint8], frame: Frame) -> list[Mark]:
    """Marks of a digit's size that are level with the frame; bars of a strip left out."""
    found: list[Mark] = []
    for left, y, wide, high, area in parts_of(ink):
        is_sized = _LEAST_MARK * BARS_PX <= high <= _MOST_MARK * BARS_PX
        if not is_sized or not frame.is_level_with((left, y, wide, high)):
            continue
        is_solid = area >= _LEAST_SHARE * wide * high or wide < 0.1 * BARS_PX
        if wide <= 0.8 * BARS_PX and is_solid:
            found.append((left, y, wide, high))
    bars = [m for m in found if m[3] > 5 * m[2] and m[3] > 0.05 * BARS_PX]
    if len(bars) < 18:
        return found
    slope, at = fitted(*middles(bars))
    half = 0.5 * float(np.percentile([m[3] for m in bars], 80))
    return [m for m in found if m[1] + m[3] / 2 - at - slope * (m[0] + m[2] / 2) > half]


def cut_line(  # noqa: PLR0913 - a photo, its plane and a line in it
    photo: NDArray[np.uint8],
    plane: Plane,
    row: list[Mark],
    first: float,
    bare: NDArray[np.uint8],
    *,
    goes_on: bool = False,
) -> Line:
    """`row` cut out of the photo. bare: the plane's px to be painted over, as paper unless strokes
    that cross them go on."""
    x, y = middles(row)
    slope, at = fitted(x, y)
    high = tall_of(row)
    left, right = min(m[0] for m in row), max(m[0] + m[2] for m in row)
    scale_y = high / _DIGIT_PX
    scale_x = max(scale_y, (right - left) / (WIDE_PX - 2 * _MARGIN_PX))
    cos, sin = math.cos(math.atan(slope)), math.sin(math.atan(slope))
    start_x = left - _MARGIN_PX * scale_x
    start_y = at + slope * start_x - HIGH_PX / 2 * scale_y
    to_plane = np.array(
        [
            [cos * scale_x, -sin * scale_y, start_x + sin * HIGH_PX / 2 * scale_y],
            [sin * scale_x, cos * scale_y, start_y],
            [0, 0, 1],
        ]
    )
    to_photo = plane.to_photo @ to_plane
    picture = cut(photo, to_photo, (WIDE_PX, HIGH_PX), plane.scale * scale_y)
    picture = _painted(picture, bare, to_plane, goes_on=goes_on)
    return Line(
        picture=_masked(picture, _MARGIN_PX + (right - left) / scale_x),
        to_photo=to_photo,
        marks=len(row),
        wide=(right - left) / BARS_PX,
        high=high / BARS_PX,
        middle=first + float(np.median(y)) / BARS_PX,
        is_even=is_even(row, slope),
        row_px=(left - _MARGIN_PX * scale_x, scale_x),
    )


def _painted(
    picture: NDArray[np.uint8],
    bare: NDArray[np.uint8],
    to_plane: NDArray[np.float64],
    *,
    goes_on: bool,
) -> NDArray[np.uint8]:
    """Form print painted over: as paper, each column's own, or where strokes that cross it are to
    go on, from what is around it (Telea 2004, Journal of Graphics Tools 9)."""
    if not bare.any():
        return picture
    mask = cv2.warpAffine(
        bare, to_plane[:2], (WIDE_PX, HIGH_PX), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    )
    covered = mask > (60 if goes_on else 100)
    if not covered.any():
        return picture
    if goes_on:
        hidden = np.asarray(covered, np.uint8)
        return np.asarray(cv2.inpaint(picture, hidden, 2, cv2.INPAINT_TELEA), np.uint8)
    paper = cv2.morphologyEx(picture, cv2.MORPH_CLOSE, np.ones((HIGH_PX, 15), np.uint8))
    return np.asarray(np.where(covered, paper, picture), np.uint8)


def _masked(picture: NDArray[np.uint8], end_px: float) -> NDArray[np.uint8]:
    """Bare paper before and after the line: frames, edges and neighbors are not its text."""
    masked = picture.copy()
    first, last = 5, min(WIDE_PX, round(end_px) + 9)
    paper = round(float(np.percentile(picture[:, first:last], 75)))
    masked[:, :first] = paper
    masked[:, last:] = paper
    return masked

"""Lines of writing below a barcode: found by their marks, cut out level and scaled.

All sizes are in lengths of the barcode above (about 52 mm for a card's 22 digits) unless
they say px. Common practice, no source: a form's captions are set in 2 to 2.5 mm, people
write digits of 3 to 6 mm in such a box.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.written.frame import (
    Frame,
    Mark,
    frame_of,
    ink_of,
    rules_of,
    slope_of,
    struck_out,
    without_rules,
)
from pairing.photos.written.plane import BARS_PX, Plane, beneath, cut, turned
from pairing.photos.written.reader import HIGH_PX, WIDE_PX

BOX_ALONG, BOX_BELOW = (-0.75, 1.05), (0.08, 0.62)
"""Where the box may lie (see `photos.card`)."""
UNFRAMED_BELOW = (0.19, 0.52)
"""Without a frame, lines whose middle lies here are the box's: under the printed number."""
_DIGIT_PX = 21.0
"""Height of the digits in the line that is cut out, of 32 px."""
_LEAST_MARK, _MOST_MARK = 0.026, 0.17
_LEAST_LINE_HIGH = 0.027
"""Lower lines are captions or specks: digits on a strip are 1.5 mm and more."""
_LEAST_MARKS = 4
_LEAST_SHARE = 0.12
"""Of its surrounding rectangle a mark fills at least this; corners of a frame fill less."""
_LEAST_LINE_WIDE = 0.10
_LEVEL = 0.012
_MARGIN_PX = 14
FEWEST_EVEN = 6
_UNEVEN_HIGH, _UNEVEN_FOOT = 0.055, 0.019
"""Spread of heights and of feet in heights. Measured on sample_scans: print up to 0.053 and
0.018, hands from 0.057 and 0.02 on. Only the words of the answer hang on it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of writing. picture: (32, 640) uint8, level, ready to be read.
    to_photo: the (2, 3) affine map from the picture's px to the photo's.
    marks: how many separate marks it has. wide, high, middle: in lengths of the barcode.
    is_even: the marks are as even as only print is."""

    picture: NDArray[np.uint8]
    to_photo: NDArray[np.float64]
    marks: int
    wide: float
    high: float
    middle: float
    is_even: bool

    def quad(self, from_px: float = 0.0, to_px: float = float(WIDE_PX)) -> Quad:
        """Where a stretch of the line lies in the photo."""
        corners = np.array(
            [(from_px, 0, 1), (to_px, 0, 1), (to_px, HIGH_PX, 1), (from_px, HIGH_PX, 1)]
        )
        a, b, c, d = ((float(x), float(y)) for x, y in corners @ self.to_photo.T)
        return Quad(top_left=a, top_right=b, bottom_right=c, bottom_left=d)


def lines_in_box(photo: NDArray[np.uint8], card_bars: Quad) -> tuple[Line, ...]:
    """The lines of writing in the box below the card's own barcode, from the top; () for an
    empty box. photo: grey (h, w) uint8."""
    plane = beneath(photo, card_bars, along=BOX_ALONG, below=BOX_BELOW)
    ink = ink_of(plane.grey)
    rules = rules_of(ink)
    slope = slope_of(rules)
    if abs(slope) > _LEVEL:
        # A barcode's corners are told to a bar's height or so; the form's rules know better.
        level = turned(card_bars, slope)
        plane = beneath(photo, level, along=BOX_ALONG, below=BOX_BELOW)
        ink = ink_of(plane.grey)
        rules = rules_of(ink)
    first, last = (round((y - BOX_BELOW[0]) * BARS_PX) for y in UNFRAMED_BELOW)
    frame = frame_of(rules, unframed=(first, last))
    marks = [m for m in _marks(without_rules(ink, rules), frame) if not _is_side(m, frame)]
    marks += struck_out(ink, rules, frame)
    return tuple(_cut_line(photo, plane, row, BOX_BELOW[0]) for row in _rows(marks))


def line_under(photo: NDArray[np.uint8], bars: Quad) -> Line | None:
    """The line printed right under a barcode; None where there is none."""
    (ax, ay), (dx, dy) = bars.top_left, bars.bottom_left
    long = math.hypot(bars.top_right[0] - ax, bars.top_right[1] - ay) or 1.0
    edge = 0.5 * math.hypot(dx - ax, dy - ay) / long
    below = (edge + 0.004, edge + 0.19)
    plane = beneath(photo, bars, along=(-0.62, 0.62), below=below)
    ink = ink_of(plane.grey)
    everywhere = Frame(top=0, foot=len(ink), left=None, right=None, is_ruled=False)
    marks = _marks(without_rules(ink, rules_of(ink)), everywhere)
    rows = [row for row in _rows([m for m in marks if m[1] > 1]) if len(row) >= 8]
    rows = [_even(row) for row in rows]
    return _cut_line(photo, plane, rows[0], below[0]) if rows else None


def _is_side(mark: Mark, frame: Frame) -> bool:
    """Whether a mark is what is left of the frame's side: thin and nearly as high."""
    return frame.is_ruled and mark[3] > 0.7 * (frame.foot - frame.top) and mark[2] < 0.3 * mark[3]


def _even(row: list[Mark]) -> list[Mark]:
    """A printed line without what is taller than its characters, such as a label's frame."""
    most = 1.4 * float(np.median([m[3] for m in row]))
    return [m for m in row if m[3] <= most]


def _marks(ink: NDArray[np.uint8], frame: Frame) -> list[Mark]:
    """Marks of a digit's size whose middle lies in the frame; bars of a strip left out."""
    count, _, stats, _ = cv2.connectedComponentsWithStats(ink)
    found: list[Mark] = []
    for left, y, wide, high, area in stats[1:count].tolist():
        is_sized = _LEAST_MARK * BARS_PX <= high <= _MOST_MARK * BARS_PX
        if not is_sized or not frame.holds((left, y, wide, high)):
            continue
        is_solid = area >= _LEAST_SHARE * wide * high or wide < 0.1 * BARS_PX
        if wide <= 0.8 * BARS_PX and is_solid:
            found.append((left, y, wide, high))
    bars = [m for m in found if m[3] > 5 * m[2] and m[3] > 0.05 * BARS_PX]
    if len(bars) < 18:
        return found
    slope, at = _fitted(*_middles(bars))
    half = 0.5 * float(np.percentile([m[3] for m in bars], 80))
    return [m for m in found if m[1] + m[3] / 2 - at - slope * (m[0] + m[2] / 2) > half]


def _rows(marks: list[Mark]) -> list[list[Mark]]:
    """Marks put together to lines, from the top; captions and specks left out."""
    rows: list[list[Mark]] = []
    for mark in sorted(marks, key=lambda m: -m[3]):
        middle = mark[1] + mark[3] / 2
        best = None
        for row in rows:
            near = min(row, key=lambda m: abs(m[0] + m[2] / 2 - mark[0] - mark[2] / 2))
            if near[1] - 0.15 * near[3] < middle < near[1] + 1.15 * near[3]:
                best = row
                break
        if best is None:
            rows.append([mark])
        else:
            best.append(mark)
    rows.sort(key=len, reverse=True)
    kept: list[list[Mark]] = []
    for row in rows:
        home = next((other for other in kept if _is_on(row, other)), None)
        if home is None:
            kept.append(row)
        else:
            home += row
    kept = [sorted(row) for row in kept if _is_line(row)]
    return sorted(kept, key=lambda row: float(np.median([m[1] for m in row])))


def _is_on(row: list[Mark], other: list[Mark]) -> bool:
    """Whether the middles of `row` lie on the line through `other`."""
    slope, at = _fitted(*_middles(other))
    x, y = _middles(row)
    return bool(np.median(np.abs(y - at - slope * x)) < 0.45 * _tall(other))


def _is_line(row: list[Mark]) -> bool:
    wide = max(m[0] + m[2] for m in row) - min(m[0] for m in row)
    is_long = wide >= _LEAST_LINE_WIDE * BARS_PX and _tall(row) >= _LEAST_LINE_HIGH * BARS_PX
    # Few marks are a line only where they are joined up writing or a line struck out.
    return is_long and (len(row) >= _LEAST_MARKS or max(m[2] for m in row) > 0.2 * BARS_PX)


def _middles(row: list[Mark]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return (np.array([m[0] + m[2] / 2 for m in row]), np.array([m[1] + m[3] / 2 for m in row]))


def _tall(row: list[Mark]) -> float:
    return float(np.percentile([m[3] for m in row], 70))


def _cut_line(photo: NDArray[np.uint8], plane: Plane, row: list[Mark], first: float) -> Line:
    x, y = _middles(row)
    slope, at = _fitted(x, y)
    high = _tall(row)
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
    picture = _masked(picture, _MARGIN_PX + (right - left) / scale_x)
    return Line(
        picture=picture,
        to_photo=to_photo,
        marks=len(row),
        wide=(right - left) / BARS_PX,
        high=high / BARS_PX,
        middle=first + float(np.median(y)) / BARS_PX,
        is_even=_is_even(row, slope),
    )


def _is_even(row: list[Mark], slope: float) -> bool:
    """Whether characters are of one height and stand on one line, as printed ones do."""
    high = float(np.median([m[3] for m in row]))
    whole = [m for m in row if 0.6 * high < m[3] < 1.5 * high and m[2] < 1.5 * high]
    if len(whole) < FEWEST_EVEN:
        return False
    feet = np.array([m[1] + m[3] - slope * (m[0] + m[2] / 2) for m in whole])
    uneven = float(np.std([m[3] for m in whole])) / high
    # The median of the distances: one joined or broken character must not count.
    off = float(np.median(np.abs(feet - np.median(feet)))) / high
    return uneven < _UNEVEN_HIGH and off < _UNEVEN_FOOT


def _masked(picture: NDArray[np.uint8], end_px: float) -> NDArray[np.uint8]:
    """Bare paper before and after the line: frames, edges and neighbours are not its text."""
    masked = picture.copy()
    first, last = 5, min(WIDE_PX, round(end_px) + 9)
    paper = round(float(np.percentile(picture[:, first:last], 75)))
    masked[:, :first] = paper
    masked[:, last:] = paper
    return masked


def _fitted(x: NDArray[np.float64], y: NDArray[np.float64]) -> tuple[float, float]:
    """Slope and height at 0 of the line through most of the middles (Theil and Sen)."""
    if len(x) < 3:
        return 0.0, float(np.median(y))
    i, j = np.triu_indices(len(x), 1)
    far = np.abs(x[j] - x[i]) > 0.25 * (x.max() - x.min())
    if not far.any():
        return 0.0, float(np.median(y))
    slope = float(np.clip(np.median((y[j] - y[i])[far] / (x[j] - x[i])[far]), -0.3, 0.3))
    return slope, float(np.median(y - slope * x))

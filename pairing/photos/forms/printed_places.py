"""Where an empty card could be written on: ruled cells, paper over lines, small squares. On a
form's picture, laid flat.
"""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.forms.definition import PX_PER_MM, Polygon

_PAPER_MM = 6.0
"""Print is narrower than this."""
INK = 0.09
"""Of the paper's light so much is missing where there is print."""
_RULE_MM, _THIN_MM = 12.0, 0.9
"""A rule is so long, and no thicker. A printed letter has no stroke so long."""
_SQUARE_MM, _SQUARE_FILLED, _SQUARE_ASPECT = (1.7, 5.5), 0.86, 1.3
_SQUARE_INKS = (0.06, 0.09, 0.13)
_CELL_MM, _CELL_FILLED = (14.0, 6.0), 0.9
"""A cell that is written in: as wide and as high at least. Common practice, no source."""
_LINE_MM, _OVER_LINE_MM, _LEAST_OVER_MM = 24.0, 8.0, 4.0
"""A line to write on is so long; the paper over it counts so far up, or up to other print."""
_APART_MM = 12.0
"""Lines one above the other, as near as this, are one place."""
_EDGE_MM = 1.2
_WORD_HIGH_MM = 7.0
"""A word is no higher."""

Rect = tuple[float, float, float, float]
"""left, top, right, foot, mm."""
Mask = NDArray[np.uint8]


def missing_light(picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    """The share of the paper's light that is missing."""
    smooth = cv2.GaussianBlur(picture, (0, 0), 0.8)
    reach = 2 * round(_PAPER_MM * PX_PER_MM / 2) + 1
    paper = cv2.morphologyEx(smooth, cv2.MORPH_CLOSE, np.ones((reach, reach), np.uint8))
    drop = cv2.subtract(paper, smooth).astype(np.float32)
    return np.asarray(drop / np.maximum(paper, 40), np.float32)


def ink_over(missing: NDArray[np.float32], least: float) -> Mask:
    """Where more light than that is missing, 255."""
    return np.where(missing > least, np.uint8(255), np.uint8(0))


def rules(ink: Mask) -> Mask:
    """Long thin lines, across or upright, with the ink that touches them across."""
    long, thick = round(_RULE_MM * PX_PER_MM), round(_THIN_MM * PX_PER_MM)
    found = np.zeros_like(ink)
    for shape in ((1, long), (long, 1)):
        lines = cv2.morphologyEx(ink, cv2.MORPH_OPEN, np.ones(shape, np.uint8))
        solid = cv2.morphologyEx(lines, cv2.MORPH_OPEN, np.ones((thick, thick), np.uint8))
        found |= np.asarray(cv2.subtract(lines, solid), np.uint8)
    return found


def without_rules(ink: Mask) -> Mask:
    """Print alone: what is joined and large, or long and thin, is rules and bands."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(ink)
    wide, high, area = (stats[:, at].astype(float) for at in (2, 3, 4))
    mm = PX_PER_MM
    is_rule = (high > _WORD_HIGH_MM * mm) | ((high < _THIN_MM * mm) & (wide > 6.0 * mm))
    is_rule |= (wide > _RULE_MM * mm) & (area < 0.2 * wide * high)
    is_rule[0] = True
    return np.where(is_rule[labels], np.uint8(0), ink)


def _holes(mask: Mask) -> Iterator[tuple[Rect, float]]:
    """What ink encloses, and which share of its rectangle."""
    outlines, tree = cv2.findContours(mask, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    for outline, row in zip(outlines, [] if tree is None else tree[0], strict=True):
        if row[3] >= 0:
            x, y, wide, high = cv2.boundingRect(outline)
            yield in_mm(x, y, x + wide, y + high), cv2.contourArea(outline) / max(1, wide * high)


def squares(missing: NDArray[np.float32]) -> list[Rect]:
    """Thin rings: a pale one is closed only where little ink counts, a dark one only where much
    does."""
    least, most = _SQUARE_MM
    found: list[Rect] = []
    for ink in _SQUARE_INKS:
        for rect, share in _holes(ink_over(missing, ink)):
            wide, high = rect[2] - rect[0], rect[3] - rect[1]
            is_sized = least < wide < most and least < high < most
            is_square = share > _SQUARE_FILLED and max(wide / high, high / wide) < _SQUARE_ASPECT
            if is_sized and is_square and not any(share_inside(rect, one) > 0.5 for one in found):
                found.append(rect)
    return found


def cells(ink: Mask) -> list[Rect]:
    """What rules enclose and is large enough to be written in."""
    wide, high = _CELL_MM
    return [
        rect for rect, share in _holes(ink)
        if rect[2] - rect[0] > wide and rect[3] - rect[1] > high and share > _CELL_FILLED
    ]  # fmt: skip


def lines(rules: Mask, print_: Mask) -> list[Rect]:
    """The paper over each line to write on; lines of one block are one place."""
    across = cv2.morphologyEx(
        rules, cv2.MORPH_OPEN, np.ones((1, round(_LINE_MM * PX_PER_MM)), np.uint8)
    )
    _, _, stats, _ = cv2.connectedComponentsWithStats(across)
    rows = sorted(
        in_mm(x, y, x + wide, y + high) for x, y, wide, high, _ in stats[1:]
        if high < 2 * _THIN_MM * PX_PER_MM
    )  # fmt: skip
    blocks: list[Rect] = []
    for left, top, right, _foot in sorted(rows, key=lambda one: one[1]):
        over = _empty_over(print_, (left, right), top)
        if over < _LEAST_OVER_MM:
            continue
        near = next((one for one in blocks if abs(one[0] - left) < 2 and abs(one[2] - right) < 2
                     and 0 < top - one[3] < _APART_MM), None)  # fmt: skip
        if near is not None and over >= min(_OVER_LINE_MM, top - near[3]) - 1.5:
            blocks[blocks.index(near)] = (near[0], near[1], right, top)
        else:
            blocks.append((left, top - over, right, top))
    return blocks


def _empty_over(print_: Mask, span: tuple[float, float], foot: float) -> float:
    """How much paper without print is over a line, mm."""
    left, right = (round(v * PX_PER_MM) for v in span)
    low = round((foot - 0.6) * PX_PER_MM)
    top = max(0, low - round(_OVER_LINE_MM * PX_PER_MM))
    rows = np.flatnonzero(print_[top:low, left:right].sum(1) > 0)
    return foot - (top + (int(rows[-1]) + 1 if len(rows) else 0)) / PX_PER_MM


def is_edge(line: Rect, cell: Rect) -> bool:
    """Whether a line to write on would be the upper or lower edge of a cell."""
    is_level = min(abs(line[3] - cell[1]), abs(line[3] - cell[3])) < _EDGE_MM
    return is_level and min(line[2], cell[2]) - max(line[0], cell[0]) > 5.0


def share_inside(one: Rect, other: Rect) -> float:
    """Which share of the first lies in the second."""
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    area = (one[2] - one[0]) * (one[3] - one[1])
    return max(0.0, wide) * max(0.0, high) / max(1e-9, area)


def bounds(place: Polygon) -> Rect:
    """The upright rectangle around a place."""
    xs, ys = zip(*place, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def in_mm(left: float, top: float, right: float, foot: float) -> Rect:
    """The same, from the picture's px."""
    return (
        float(left / PX_PER_MM), float(top / PX_PER_MM), float(right / PX_PER_MM),
        float(foot / PX_PER_MM),
    )  # fmt: skip

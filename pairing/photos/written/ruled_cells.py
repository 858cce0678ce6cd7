"""Where a number could be written on a card of no known form: cells that rules enclose, laid
flat by their own four corners, and the paper around the card's own bars.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.written.form_ink import rules_in
from pairing.photos.written.frame import ink_of
from pairing.photos.written.plane import (
    PX_PER_MM,
    corners_of,
    homography,
    laid_flat,
    mapped,
    rectangle,
)
from pairing.photos.written.region import Region

Corners = NDArray[np.float64]

_LONG_PX = 1700
"""The photo is looked at no larger than this: a rule of 0.2 mm on a card of 180 mm has 1.8 px."""
_OF_PAPER, _LEAST_INK = 0.07, 6.0
"""By what share of how light the paper around it is a rule is darker, and by how many gray levels
at least."""
_BARS_MM = 52.0
_WIDE_MM, _HIGH_MM = (34.0, 130.0), (5.0, 30.0)
"""A cell that a number of 13 to 22 digits is written in. Common practice, no source: digits of
2.5 to 8 mm."""
_CELL_MM = 75.0
"""Without bars to measure by, a cell is taken to be so wide."""
_CORNER_OFF = 0.035
"""Of the cell's circumference its corners lie off its outline at most."""
_FILLED, _HULL_FILLED = 0.86, 0.5
_MARGIN_MM, _RULE_MM, _BOWED_MM = 3.0, 0.5, 1.0
_LEAST_RULED = 0.6
_LEAST_RULE = 0.4
"""Of a cell's width: shorter lines across are parts of characters."""
_CLOSED_PX = 5
"""In the picture a quarter as large, wider than a rule and narrower than what lies beside it."""
_OWN_MM = 5.5
"""Under, or over, a card's bars its own number is printed."""
_AROUND_MM = (-30.0, 112.0)
_BELOW_MM = (0.0, 44.0)
_ABOVE_MM = (-46.0, -1.0)
_BESIDE_MM, _BESIDE_HIGH_MM = (4.0, 112.0), (-9.0, 12.0)
_ACROSS_MM, _ACROSS_HIGH_MM = (5.0, 110.0), (-45.0, 45.0)
"""Beside bars that stand upright, from their middle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A cell of the card. corners: (4, 2), px of the photo, in reading direction. px_per_mm:
    about, in its middle."""

    corners: Corners
    px_per_mm: float


def cells(
    photo: NDArray[np.uint8], bars: Quad | None, *, filled: float = _FILLED
) -> tuple[Cell, ...]:
    """The cells that could hold the number, the right way up as far as the card's own bars tell;
    without them, or with bars across, both ways. photo: gray (h, w) uint8. filled: of what its
    corners span a cell's outline encloses at least this."""
    small = min(1.0, _LONG_PX / max(photo.shape))
    gray = np.asarray(cv2.resize(photo, None, fx=small, fy=small, interpolation=cv2.INTER_AREA))
    found: list[Cell] = []
    for outline in _holes(np.asarray(gray, np.uint8)):
        corners = _four_corners(outline, filled)
        if corners is None:
            continue
        corners = _read_along(corners / small)
        long, low = _sides(corners)
        px_per_mm = long / _CELL_MM if bars is None else _length(bars) / _BARS_MM
        is_sized = _WIDE_MM[0] < long / px_per_mm < _WIDE_MM[1]
        if not is_sized or not _HIGH_MM[0] < low / px_per_mm < _HIGH_MM[1]:
            continue
        found += [Cell(corners=one, px_per_mm=px_per_mm) for one in _ways(corners, bars)]
    return tuple(found)


def is_in_cell(
    photo: NDArray[np.uint8], bars: Quad | None, strip: Quad, *, is_hull_enough: bool = False
) -> bool:
    """Whether the form's own rules enclose a strip: what shows of a label under a torn card has
    no form around it. photo: gray (h, w) uint8; bars: the card's own. is_hull_enough: a cell into
    which the strip's edge or print runs counts too."""
    middle = corners_of(strip).mean(axis=0)
    at = (float(middle[0]), float(middle[1]))
    return any(
        cv2.pointPolygonTest(cell.corners.astype(np.float32), at, measureDist=False) > 0
        for cell in cells(photo, bars, filled=_HULL_FILLED if is_hull_enough else _FILLED)
    )


def cell_region(photo: NDArray[np.uint8], cell: Cell) -> Region:
    """The cell laid flat, its rules known as the form's own."""
    long, low = _sides(cell.corners)
    scale = PX_PER_MM / cell.px_per_mm
    margin = _MARGIN_MM * PX_PER_MM
    wide, high = long * scale, low * scale
    box = rectangle(margin, margin, wide, high)
    to_photo = homography(box, cell.corners)
    size = (round(wide + 2 * margin), round(high + 2 * margin))
    plane = laid_flat(photo, to_photo, size)
    rules = rules_in(ink_of(plane.gray, of_form=True), _LEAST_RULE * wide)
    return Region(plane=plane, box=box, printed=_along_sides(rules, box))


def is_ruled(region: Region) -> bool:
    """Whether rules are seen along most of each side of a cell: a strip's edge that runs into a
    comb's lines encloses a quadrilateral too, and is no cell."""
    (left, top), (right, foot) = region.box[0].tolist(), region.box[2].tolist()
    near = round(_RULE_MM * PX_PER_MM)
    for at in (top, foot):
        side = region.printed[max(0, round(at) - near) : round(at) + near + 1]
        if side[:, round(left) : round(right)].any(0).mean() < _LEAST_RULED:
            return False
    for at in (left, right):
        side = region.printed[:, max(0, round(at) - near) : round(at) + near + 1]
        if side[round(top) : round(foot)].any(1).mean() < _LEAST_RULED:
            return False
    return True


def _along_sides(rules: NDArray[np.uint8], box: Corners) -> NDArray[np.uint8]:
    """Of what is ruled in a cell's plane what lies along its sides; a rule that is bowed, as paper
    is, lies a little off them."""
    high, wide = rules.shape
    near, far = np.zeros_like(rules), np.zeros_like(rules)
    # The rules of the cells beside it, too: a side may run on beyond its corner.
    for band, reach in ((near, _RULE_MM), (far, _BOWED_MM)):
        for at in (0, 2):
            y, x = round(box[at, 1]), round(box[at, 0])
            cv2.line(band, (0, y), (wide, y), (255,), round(2 * reach * PX_PER_MM))
            cv2.line(band, (x, 0), (x, high), (255,), round(2 * reach * PX_PER_MM))
    _, labels = cv2.connectedComponents(rules & far)
    sides = np.unique(labels[(near & rules) > 0])
    return np.where(np.isin(labels, sides[sides > 0]), np.uint8(255), np.uint8(0))


def open_regions(photo: NDArray[np.uint8], bars: Quad) -> tuple[Region, ...]:
    """The paper under the card's own bars, above them, and beside them, without the number printed
    there."""
    to_photo, high_mm = _bars_plane(bars)
    foot = high_mm + _OWN_MM
    beside = (_BESIDE_HIGH_MM[0], high_mm + _BESIDE_HIGH_MM[1])
    places = (
        (_AROUND_MM[0], foot + _BELOW_MM[0], _AROUND_MM[1], foot + _BELOW_MM[1]),
        (_BARS_MM + _BESIDE_MM[0], beside[0], _BARS_MM + _BESIDE_MM[1], beside[1]),
        (_AROUND_MM[0], _ABOVE_MM[0], _AROUND_MM[1], _ABOVE_MM[1]),
        (-_BESIDE_MM[1], beside[0], -_BESIDE_MM[0], beside[1]),
    )
    return tuple(_open(photo, to_photo, place) for place in places)


def regions_across(photo: NDArray[np.uint8], bars: Quad) -> tuple[Region, ...]:
    """The paper on both sides of bars that stand upright, each the two ways it could be read."""
    to_photo, high_mm = _bars_plane(bars)
    off = high_mm / 2 + _ACROSS_MM[0]
    found = []
    for turn in (1.0, -1.0):
        turned = np.array([[0.0, -turn, _BARS_MM / 2], [turn, 0.0, high_mm / 2], [0.0, 0.0, 1.0]])
        for side in ((off, _ACROSS_MM[1]), (-_ACROSS_MM[1], -off)):
            place = (side[0], _ACROSS_HIGH_MM[0], side[1], _ACROSS_HIGH_MM[1])
            found.append(_open(photo, to_photo @ turned, place))
    return tuple(found)


def _bars_plane(bars: Quad) -> tuple[NDArray[np.float64], float]:
    """From mm, from the bars' top left corner, to the photo's px; and how high they are, mm."""
    corners = corners_of(bars)
    long, low = _sides(corners)
    high_mm = _BARS_MM * low / max(long, 1.0)
    return homography(rectangle(0.0, 0.0, _BARS_MM, high_mm), corners), high_mm


def _open(
    photo: NDArray[np.uint8], to_photo: NDArray[np.float64], mm: tuple[float, float, float, float]
) -> Region:
    left, top, right, foot = mm
    from_px = np.array([[1 / PX_PER_MM, 0, left], [0, 1 / PX_PER_MM, top], [0, 0, 1.0]])
    size = (round((right - left) * PX_PER_MM), round((foot - top) * PX_PER_MM))
    plane = laid_flat(photo, to_photo @ from_px, size)
    inner = rectangle(2.0, 2.0, size[0] - 4.0, size[1] - 4.0)
    nothing = np.zeros(plane.gray.shape, np.uint8)
    return Region(plane=plane, box=inner, printed=nothing)


def _holes(gray: NDArray[np.uint8]) -> list[NDArray[np.int32]]:
    """Outlines of what rules enclose, px."""
    # Closing, unlike a median, keeps the paper's level up to the card's edge, where rules run.
    soft = cv2.resize(gray, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    soft = cv2.GaussianBlur(soft, (0, 0), 0.8)
    paper = cv2.morphologyEx(soft, cv2.MORPH_CLOSE, np.ones((_CLOSED_PX, _CLOSED_PX), np.uint8))
    paper = cv2.resize(paper, gray.shape[::-1], interpolation=cv2.INTER_LINEAR)
    drop = cv2.subtract(paper, cv2.GaussianBlur(gray, (0, 0), 0.8))
    least = np.maximum(_LEAST_INK, _OF_PAPER * paper.astype(np.float32))
    ink = np.where(drop > least, np.uint8(255), np.uint8(0))
    # A rule that a pen or the light broke by a hair still encloses.
    ink = cv2.morphologyEx(ink, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    outlines, tree = cv2.findContours(ink, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    parents = [] if tree is None else tree[0][:, 3]
    least = 0.02 * max(gray.shape)
    return [
        np.asarray(outline, np.int32)
        for outline, parent in zip(outlines, parents, strict=True)
        if parent >= 0 and len(outline) >= 4 and max(cv2.boundingRect(outline)[2:]) > 4 * least
    ]


def _four_corners(outline: NDArray[np.int32], filled: float) -> Corners | None:
    """The corners of an outline that is a quadrilateral, but for what writing cuts from it."""
    hull = cv2.convexHull(outline)
    round_px = cv2.arcLength(hull, True)
    found = cv2.approxPolyDP(hull, _CORNER_OFF * round_px, True).reshape(-1, 2)
    if len(found) != 4:
        return None
    area = cv2.contourArea(found.astype(np.float32))
    if cv2.contourArea(outline) < filled * area * 0.9 or area < 50:
        return None
    return np.asarray(found, np.float64)


def _read_along(corners: Corners) -> Corners:
    """The same corners clockwise, the first side a long one that leads to the right."""
    middle = corners.mean(0)
    order = np.argsort(np.arctan2(*(corners - middle).T[::-1]))
    corners = corners[order]
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    first = 0 if sides[0] + sides[2] > sides[1] + sides[3] else 1
    corners = np.roll(corners, -first, axis=0)
    if corners[1, 0] < corners[0, 0]:
        corners = np.roll(corners, -2, axis=0)
    return corners


def _ways(corners: Corners, bars: Quad | None) -> list[Corners]:
    turned = np.roll(corners, -2, axis=0)
    if bars is None:
        return [corners, turned]
    ends = corners_of(bars)
    along = ends[1] + ends[2] - ends[0] - ends[3]
    own = corners[1] - corners[0]
    cosine = float(along @ own) / max(1e-9, float(np.linalg.norm(along) * np.linalg.norm(own)))
    if abs(cosine) < 0.5:
        return [corners, turned]
    return [corners if cosine > 0 else turned]


def _sides(corners: Corners) -> tuple[float, float]:
    """Mean lengths of the sides along and across."""
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    return float(sides[0] + sides[2]) / 2, float(sides[1] + sides[3]) / 2


def _length(bars: Quad) -> float:
    return max(1.0, _sides(corners_of(bars))[0])


def middle_of(region: Region, row: list[tuple[float, float, float, float]]) -> Corners:
    """A row's middle in the photo, (1, 2)."""
    left, right = min(m[0] for m in row), max(m[0] + m[2] for m in row)
    top, foot = min(m[1] for m in row), max(m[1] + m[3] for m in row)
    at = np.array([((left + right) / 2, (top + foot) / 2)])
    return mapped(region.plane.to_photo, at)

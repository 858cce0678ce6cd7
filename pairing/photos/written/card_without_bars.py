"""The card found by its printed form, where its own barcode cannot tell where the box is.

A card is a sheet of light paper with ruled fields; its box is a wide, low one of them. Which
one holds a number is for the reader to say. A sheet that bears a label is no card.

It is looked for only in a photo named as the card's or beside its label on another sheet, and only
a card without a number of its own can agree so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.written.shown import flattened

_WIDE_PX = 1600
"""The photo is looked at no wider than this: a rule of 0.2 mm on a card of 180 mm, filling
the photo, still has 1.7 px."""
_LEAST_PX = 100
"""In a smaller picture no writing can be read."""
_WIDE_TO_HIGH = (4.2, 11.0)
"""A box for 22 digits: 60 to 80 mm wide, 8 to 14 mm high. Common practice, no source."""
_FILLED = 0.8
"""Of the rectangle around it a field fills at least this."""
_INK = 18
"""By how many gray levels a rule is darker than the paper around it."""
_LIKE = 30
"""One sheet's gray levels lie so near to each other in uneven light."""
_BARRED = 2.2
"""Measured on sample_scans: writing and print 0.8 to 1.3, strips with bars 3.7 to 4.4."""
_LEAST_WIDE, _MOST_WIDE = 0.12, 0.7
"""A box's width, in widths of the photo."""
_BARS_IN_BOX = 1.39
"""A box's width in lengths of a card's barcode (72 mm to 52 mm); the reader finds the exact
rules by itself."""
_MIDDLE_ALONG, _MIDDLE_BELOW = 0.15, 0.35
"""Where a box's middle lies as seen from the barcode above it, in its lengths."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A ruled field that may be the box. paper: the sheet that it is on.
    bars: where the card's own barcode would lie, for the reader to look below it.
    holds_bars: there are bars in it, read or not."""

    place: Quad
    paper: Quad | None
    bars: Quad
    holds_bars: bool


def fields(photo: NDArray[np.uint8]) -> tuple[Field, ...]:
    """Wide, low ruled fields, both ways up. photo: gray (h, w) uint8."""
    if min(photo.shape) < _LEAST_PX:
        return ()
    finer = max(1.0, photo.shape[1] / _WIDE_PX)
    small = cv2.resize(photo, None, fx=1 / finer, fy=1 / finer, interpolation=cv2.INTER_AREA)
    soft = cv2.GaussianBlur(cv2.resize(small, None, fx=0.5, fy=0.5), (0, 0), 2)
    found = []
    for rect in _rectangles(np.asarray(small, np.uint8)):
        paper = _paper(np.asarray(soft, np.uint8), rect)
        found.append(
            Field(
                place=_quad(rect * finer),
                paper=None if paper is None else _quad(paper * finer),
                bars=_bars(rect * finer),
                holds_bars=_is_barred(np.asarray(small, np.uint8), rect),
            )
        )
    return tuple(found)


def turned(field: Field) -> Field:
    """The same field for a photo that is upside down."""
    a, b, c, d = (np.array(corner) for corner in field.place.corners)
    corners = np.stack([c, d, a, b])
    return replace(field, place=_quad(corners), bars=_bars(corners))


def is_within(point: tuple[float, float], quad: Quad) -> bool:
    """Whether a point of the photo lies in a quad."""
    corners = np.array(quad.corners, np.float32).reshape(-1, 1, 2)
    return cv2.pointPolygonTest(corners, point, False) >= 0


def _rectangles(gray: NDArray[np.uint8]) -> list[NDArray[np.float64]]:
    """Corners (4, 2), from the top left in reading direction, of what rules enclose."""
    paper = cv2.medianBlur(cv2.resize(gray, None, fx=0.25, fy=0.25), 9)
    paper = cv2.resize(paper, gray.shape[::-1], interpolation=cv2.INTER_LINEAR)
    ink = np.where(cv2.subtract(paper, gray) > _INK, np.uint8(255), np.uint8(0))
    contours, tree = cv2.findContours(ink, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    wide_px = gray.shape[1]
    found = []
    for contour, (_, _, _, parent) in zip(contours, [] if tree is None else tree[0], strict=True):
        if parent < 0 or len(contour) < 4:
            continue
        hull = cv2.convexHull(contour)
        middle, size, angle = cv2.minAreaRect(hull)
        long, low = max(size), max(min(size), 1.0)
        is_shaped = _WIDE_TO_HIGH[0] <= long / low <= _WIDE_TO_HIGH[1]
        is_sized = _LEAST_WIDE * wide_px <= long <= _MOST_WIDE * wide_px
        if is_shaped and is_sized and cv2.contourArea(hull) > _FILLED * long * low:
            found.append(_corners(middle, size, angle))
    return found


def _corners(
    middle: Sequence[float], size: Sequence[float], angle_deg: float
) -> NDArray[np.float64]:
    """Of a rotated rectangle: its long side is the reading direction, from left to right."""
    turn = math.radians(angle_deg if size[0] >= size[1] else angle_deg + 90.0)
    ux, uy = math.cos(turn), math.sin(turn)
    if ux < 0:
        ux, uy = -ux, -uy
    along = np.array([ux, uy]) * max(size) / 2
    down = np.array([-uy, ux]) * min(size) / 2
    at = np.array(middle, np.float64)
    return np.stack([at - along - down, at + along - down, at + along + down, at - along + down])


def _paper(soft: NDArray[np.uint8], rect: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Corners (4, 2) of the sheet around a field: what is as light as the paper beside it and
    is connected with it; None where its shape is not that of a sheet. soft: blurred, half as large.
    """
    down = (rect[3] - rect[0]) / np.linalg.norm(rect[3] - rect[0])
    mask = np.zeros((soft.shape[0] + 2, soft.shape[1] + 2), np.uint8)
    for corner, way in ((rect[0], -down), (rect[1], -down), (rect[2], down), (rect[3], down)):
        x, y = (round(float(v)) for v in (corner + 0.25 * way * _low(rect)) / 2)
        if not (0 <= x < soft.shape[1] and 0 <= y < soft.shape[0]):
            continue
        cv2.floodFill(
            soft.copy(), mask, (x, y), 0, _LIKE, _LIKE,
            4 | cv2.FLOODFILL_MASK_ONLY | cv2.FLOODFILL_FIXED_RANGE | 255 << 8,
        )  # fmt: skip
    sheet = cv2.morphologyEx(mask[1:-1, 1:-1], cv2.MORPH_CLOSE, np.ones((9, 9), np.uint8))
    contours, _ = cv2.findContours(sheet, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    if not contours:
        return None
    largest = max(contours, key=cv2.contourArea)
    middle, size, angle = cv2.minAreaRect(largest)
    is_sheet = cv2.contourArea(largest) > _FILLED * size[0] * size[1]
    return _corners(middle, size, angle) * 2.0 if is_sheet else None


def _is_barred(gray: NDArray[np.uint8], rect: NDArray[np.float64]) -> bool:
    """Whether what is in a field changes along it far more than across it."""
    inner = flattened(gray, _quad(rect), (640, 100))[8:-8, 12:-12]
    along = np.abs(cv2.Sobel(inner, cv2.CV_32F, 1, 0)).mean()
    across = np.abs(cv2.Sobel(inner, cv2.CV_32F, 0, 1)).mean()
    return bool(along > _BARRED * max(float(across), 1e-6))


def _low(rect: NDArray[np.float64]) -> float:
    return float(np.linalg.norm(rect[3] - rect[0]))


def _bars(rect: NDArray[np.float64]) -> Quad:
    along = rect[1] - rect[0]
    long = along / _BARS_IN_BOX
    down = np.array([-long[1], long[0]])
    middle = rect.mean(0) - _MIDDLE_ALONG * long - _MIDDLE_BELOW * down
    half, low = long / 2, down * 0.08
    return _quad(
        np.stack(
            [middle - half - low, middle + half - low, middle + half + low, middle - half + low]
        )
    )


def _quad(corners: NDArray[np.float64]) -> Quad:
    a, b, c, d = ((float(x), float(y)) for x, y in corners)
    return Quad(top_left=a, top_right=b, bottom_right=c, bottom_left=d)

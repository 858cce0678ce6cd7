"""What is proposed of an empty card before a person confirms it: its corners, its size, the
number's box and how that is marked.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad, Role, TrackingNumber
from pairing.numbers import identify
from pairing.photos.barcodes.symbols import read_symbols
from pairing.photos.forms.comb_cells import comb_in
from pairing.photos.forms.definition import NO_BOX, Form
from pairing.photos.forms.learning import LEAST_SHARE, Corners, flat_picture
from pairing.photos.forms.printed_places import Rect, bounds, share_inside
from pairing.photos.forms.proposed_fields import proposed_fields
from pairing.photos.written.plane import corners_of, homography, inverse, mapped, rectangle
from pairing.photos.written.ruled_cells import cells

_BARS_MM, _USUAL_MM = 52.0, 150.0
"""How long a card's bars are (22 digits at 0.33 mm), and how wide a card is. Common practice, no
source."""
_BOX_LONG_MM = (38.0, 120.0)
_CLOSE = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposedBox:
    """A place for the number. corners: px of the photo. kind: comb or frame. cells: of a comb."""

    corners: Corners
    kind: str
    cells: int = 0


def own_bars(photo: NDArray[np.uint8]) -> Quad | None:
    """Where a card's own bars lie in a photo: the one symbol that is there, or the one that says a
    card's number; None for none or several."""
    symbols = read_symbols(photo).symbols
    if len(symbols) > 1:
        symbols = tuple(one for one in symbols if _is_card_number(one.text))
    return symbols[0].quad if len(symbols) == 1 else None


def _is_card_number(text: str) -> bool:
    number = identify(text)
    return isinstance(number, TrackingNumber) and number.role is Role.CARD


def card_corners(photo: NDArray[np.uint8], bars: Quad | None = None) -> Corners | None:
    """The corners of the largest light sheet in a photo, from the top left as its own bars read,
    or without them as seen; None where none is to be made out."""
    small = min(1.0, 800 / max(photo.shape))
    gray = cv2.resize(photo, None, fx=small, fy=small, interpolation=cv2.INTER_AREA)
    gray = cv2.GaussianBlur(gray, (0, 0), 2.0)
    _, light = cv2.threshold(gray, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    light = cv2.morphologyEx(light, cv2.MORPH_CLOSE, np.ones((15, 15), np.uint8))
    contours, _ = cv2.findContours(light, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    if not contours:
        return None
    hull = cv2.convexHull(max(contours, key=cv2.contourArea))
    area = cv2.contourArea(hull)
    found = cv2.approxPolyDP(hull, _CLOSE * cv2.arcLength(hull, True), True).reshape(-1, 2)
    if len(found) != 4 or area < LEAST_SHARE * gray.size or area > 0.97 * gray.size:
        return None
    corners = upright(np.asarray(found / small, np.float64))
    if bars is not None:
        ends = corners_of(bars)
        along, own = ends[1] - ends[0], corners[1] - corners[0]
        if float(along @ own) < -0.5 * float(np.linalg.norm(along) * np.linalg.norm(own)):
            corners = np.roll(corners, -2, axis=0)
    return corners


def proposed_size(corners: Corners, bars: Quad | None) -> tuple[float, float]:
    """About how wide and high a card is, mm, measured by its own bars; without them as wide as
    most are."""
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    wide, high = float(sides[0] + sides[2]) / 2, float(sides[1] + sides[3]) / 2
    if bars is None:
        return _USUAL_MM, _USUAL_MM * high / wide
    ends = corners_of(bars)
    mm = _BARS_MM / max(1.0, float(np.linalg.norm(ends[1] - ends[0])))
    return wide * mm, high * mm


def proposed_box(
    photo: NDArray[np.uint8], bars: Quad | None, corners: Corners, size_mm: tuple[float, float]
) -> ProposedBox | None:
    """Where the number is likeliest written: the comb with the most cells, or else a ruled cell
    near the card's own bars; None where there is neither. What is proposed a person must
    confirm. corners: the card's, px of the photo."""
    to_photo = homography(rectangle(0.0, 0.0, *size_mm), corners)
    flat = flat_picture(photo, to_photo, size_mm)
    comb = comb_in(flat)
    if comb is not None:
        (left, top, right, foot), many = comb
        place = mapped(to_photo, rectangle(left, top, right - left, foot - top))
        return ProposedBox(corners=place, kind="comb", cells=many)
    cell = _proposed_cell(photo, bars, corners, size_mm, _named(flat, size_mm))
    return None if cell is None else ProposedBox(corners=cell, kind="frame")


def marked_box(
    photo: NDArray[np.uint8], box: Corners, corners: Corners, size_mm: tuple[float, float]
) -> ProposedBox:
    """A box that a person marked, and whether it holds a comb."""
    to_photo = homography(rectangle(0.0, 0.0, *size_mm), corners)
    place = mapped(inverse(to_photo), box)
    around = bounds(tuple((float(x), float(y)) for x, y in place))
    comb = comb_in(flat_picture(photo, to_photo, size_mm), around)
    if comb is None:
        return ProposedBox(corners=box, kind="frame")
    return ProposedBox(corners=box, kind="comb", cells=comb[1])


def _named(flat: NDArray[np.uint8], size_mm: tuple[float, float]) -> list[Rect]:
    """Places whose caption says that they are for something else than the number, mm."""
    box = ((1.0, 1.0), (16.0, 1.0), (16.0, 3.5), (1.0, 3.5))
    form = Form(name="seen", picture=flat, size_mm=size_mm, box=box, kind=NO_BOX)
    return [bounds(one.place) for one in proposed_fields(form) if one.name]


def _proposed_cell(
    photo: NDArray[np.uint8],
    bars: Quad | None,
    corners: Corners,
    size_mm: tuple[float, float],
    others: list[Rect],
) -> Corners | None:
    """The cell that is likeliest the number's: ruled, long enough, empty, none of the others, and
    near the card's own bars; None where there is no such cell."""
    back = inverse(homography(rectangle(0.0, 0.0, *size_mm), corners))
    found = []
    for cell in cells(photo, bars):
        flat = mapped(back, cell.corners)
        long, high = (float(np.linalg.norm(flat[at] - flat[0])) for at in (1, 3))
        is_upright = flat[1, 0] - flat[0, 0] > 0.8 * long
        if not is_upright or not (_BOX_LONG_MM[0] < long < _BOX_LONG_MM[1]):
            continue
        rect = (*flat.min(0).tolist(), *flat.max(0).tolist())
        if any(share_inside(one, rect) > 0.5 for one in others):
            continue
        if bars is None:
            found.append((-long / high, cell.corners))
            continue
        own = mapped(back, corners_of(bars))
        if cv2.pointPolygonTest(flat.astype(np.float32).reshape(-1, 1, 2),
                                tuple(map(float, own.mean(0))), False) >= 0:  # fmt: skip
            continue  # the card's own bars are in it
        found.append((float(np.linalg.norm(flat.mean(0) - own.mean(0))) + 2 * high, cell.corners))
    return min(found, key=lambda one: one[0])[1] if found else None


def upright(corners: Corners) -> Corners:
    """The same corners, clockwise from the one at the top left as seen in the photo."""
    middle = corners.mean(0)
    order = np.argsort(np.arctan2(*(corners - middle).T[::-1]))
    turned = corners[order]
    return np.roll(turned, -int(turned.sum(1).argmin()), axis=0)

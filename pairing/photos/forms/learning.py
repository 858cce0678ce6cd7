"""A form learned from photos of an empty card."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.errors import CounterfoilError
from pairing.model import Quad
from pairing.photos.forms.definition import PX_PER_MM, Field, Form, Polygon, checked
from pairing.photos.forms.features import Index
from pairing.photos.forms.registration import registered
from pairing.photos.written.plane import (
    corners_of,
    homography,
    inverse,
    laid_flat,
    mapped,
    rectangle,
)
from pairing.photos.written.ruled_cells import cells

Corners = NDArray[np.float64]
"""(4, 2), px of the first photo, from the card's top left clockwise."""

_BARS_SIDE_MM, _BARS_OVER_MM, _BARS_UNDER_MM = 3.0, 1.0, 5.0
"""Around a card's bars, its own number under them included. Common practice, no source."""
_BARS_MM, _USUAL_MM = 52.0, 150.0
"""How long a card's bars are (22 digits at 0.33 mm), and how wide a card is. Common practice, no
source."""
_NO_BOX_MM = (16.0, 2.5)
_BOX_LONG_MM = (38.0, 120.0)
_LEAST_SHARE = 0.04
"""A card is at least this much of the photo."""
_CLOSE = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Marked:
    """What a person marked in the first photo: the card's corners, the box's, the card's size in
    mm, how the box is marked, how many cells a comb has, other fields by name, and codes of
    findings about them that are to be notes only."""

    corners: Corners
    box: Corners
    size_mm: tuple[float, float]
    kind: str = "frame"
    cells: int = 0
    fields: tuple[tuple[str, Corners], ...] = ()
    only_notes: tuple[str, ...] = ()


def learned(
    name: str,
    photos: Sequence[NDArray[np.uint8]],
    marked: Marked,
    *,
    bars: Quad | None = None,
    families: Sequence[str] = (),
) -> Form:
    """The form that the photos show. bars: where the card's own barcode is in the first one.
    Raises CounterfoilError where what was marked cannot be a card's, or where another photo does
    not show the same card."""
    wide, high = marked.size_mm
    _check_corners(marked.corners, photos[0].shape)
    to_photo = homography(rectangle(0.0, 0.0, wide, high), marked.corners)
    back = inverse(to_photo)
    form = Form(
        name=name,
        picture=_picture(photos[0], to_photo, marked.size_mm),
        size_mm=marked.size_mm,
        box=_polygon(mapped(back, marked.box)),
        kind=marked.kind,
        cells=marked.cells,
        bars=None
        if bars is None
        else _around_bars(mapped(back, np.array(bars.corners)), wide, high),
        families=tuple(families),
        fields=tuple(
            Field(name=name, place=_polygon(mapped(back, place))) for name, place in marked.fields
        ),
        only_notes=marked.only_notes,
    )
    return _averaged(checked(form), photos[1:])


def no_box(corners: Corners, size_mm: tuple[float, float]) -> Corners:
    """The place of no meaning that a side without a number's box has in its stead."""
    to_photo = homography(rectangle(0.0, 0.0, *size_mm), corners)
    return mapped(to_photo, rectangle(1.0, 1.0, _NO_BOX_MM[0], _NO_BOX_MM[1]))


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
    if len(found) != 4 or area < _LEAST_SHARE * gray.size or area > 0.97 * gray.size:
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
) -> Corners | None:
    """The cell that is likeliest the number's: ruled, long enough, empty, and near the card's own
    bars; None where there is no such cell. What is proposed a person must confirm."""
    back = inverse(homography(rectangle(0.0, 0.0, *size_mm), corners))
    found = []
    for cell in cells(photo, bars):
        flat = mapped(back, cell.corners)
        long, high = (float(np.linalg.norm(flat[at] - flat[0])) for at in (1, 3))
        is_upright = flat[1, 0] - flat[0, 0] > 0.8 * long
        if not is_upright or not (_BOX_LONG_MM[0] < long < _BOX_LONG_MM[1]):
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


def _check_corners(corners: Corners, shape: tuple[int, ...]) -> None:
    share = cv2.contourArea(corners.astype(np.float32)) / (shape[0] * shape[1])
    is_convex = cv2.isContourConvex(corners.astype(np.float32).reshape(-1, 1, 2))
    if not is_convex or share < _LEAST_SHARE:
        raise CounterfoilError(
            "These are not a card's four corners",
            where=" ".join(f"{x:.0f},{y:.0f}" for x, y in corners),
            remedy="Give them in px of the first photo, from the card's top left clockwise.",
        )


def _picture(
    photo: NDArray[np.uint8], to_photo: NDArray[np.float64], size_mm: tuple[float, float]
) -> NDArray[np.uint8]:
    size = (round(size_mm[0] * PX_PER_MM), round(size_mm[1] * PX_PER_MM))
    return laid_flat(photo, to_photo @ np.diag([1 / PX_PER_MM, 1 / PX_PER_MM, 1.0]), size).gray


def _averaged(form: Form, others: Sequence[NDArray[np.uint8]]) -> Form:
    """The same form with a picture that all photos went into: each pixel their median, so that
    a shadow or a reflection in one of them is none of the form."""
    if not others:
        return form
    index = Index.of([form])
    pictures = [_evened(form.picture)]
    for at, photo in enumerate(others, 2):
        match = registered(photo, index)
        if match is None:
            raise CounterfoilError(
                "This photo does not show the same empty card as the first",
                where=f"photo {at}",
                remedy="Leave it out, or take it again: the whole card, sharp, from above.",
            )
        pictures.append(_evened(_picture(photo, match.to_photo, form.size_mm)))
    middle = np.median(np.stack(pictures), axis=0)
    return replace(form, picture=np.asarray(np.round(middle), np.uint8))


def _evened(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The picture in even light: its paper everywhere as light as in the middle of the range."""
    paper = cv2.morphologyEx(picture, cv2.MORPH_CLOSE, np.ones((41, 41), np.uint8))
    paper = cv2.GaussianBlur(paper, (0, 0), 20.0).astype(np.float32)
    return np.asarray(np.clip(picture / np.maximum(paper, 1.0) * 220, 0, 255), np.uint8)


def _around_bars(bars: Corners, wide: float, high: float) -> Polygon:
    """The bars and what is printed under them; in reading direction."""
    along = (bars[1] - bars[0]) / np.linalg.norm(bars[1] - bars[0])
    down = (bars[3] - bars[0]) / np.linalg.norm(bars[3] - bars[0])
    moves = (
        (-_BARS_SIDE_MM, -_BARS_OVER_MM), (_BARS_SIDE_MM, -_BARS_OVER_MM),
        (_BARS_SIDE_MM, _BARS_UNDER_MM), (-_BARS_SIDE_MM, _BARS_UNDER_MM),
    )  # fmt: skip
    around = [at + x * along + y * down for at, (x, y) in zip(bars, moves, strict=True)]
    return _polygon(np.clip(np.stack(around), (0.0, 0.0), (wide, high)))


def _polygon(corners: Corners) -> Polygon:
    return tuple((round(float(x), 2), round(float(y), 2)) for x, y in corners)

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
from pairing.photos.written.plane import homography, inverse, laid_flat, mapped, rectangle

Corners = NDArray[np.float64]
"""(4, 2), px of the first photo, from the card's top left clockwise."""

_BARS_SIDE_MM, _BARS_OVER_MM, _BARS_UNDER_MM = 3.0, 1.0, 5.0
"""Around a card's bars, its own number under them included. Common practice, no source."""
_NO_BOX_MM = (16.0, 2.5)
LEAST_SHARE = 0.04
"""A card is at least this much of the photo."""


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
    check_corners(marked.corners, photos[0].shape)
    to_photo = homography(rectangle(0.0, 0.0, wide, high), marked.corners)
    back = inverse(to_photo)
    form = Form(
        name=name,
        picture=flat_picture(photos[0], to_photo, marked.size_mm),
        size_mm=marked.size_mm,
        box=_polygon(mapped(back, marked.box)),
        kind=marked.kind,
        cells=marked.cells,
        bars=None
        if bars is None
        else around_bars(mapped(back, np.array(bars.corners)), marked.size_mm),
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


def check_corners(corners: Corners, shape: tuple[int, ...]) -> None:
    """Raise CounterfoilError for corners that cannot be a card's in a photo of that shape."""
    share = cv2.contourArea(corners.astype(np.float32)) / (shape[0] * shape[1])
    is_convex = cv2.isContourConvex(corners.astype(np.float32).reshape(-1, 1, 2))
    if not is_convex or share < LEAST_SHARE:
        raise CounterfoilError(
            "These are not a card's four corners",
            where=" ".join(f"{x:.0f},{y:.0f}" for x, y in corners),
            remedy="Give them in px of the first photo, from the card's top left clockwise.",
        )


def flat_picture(
    photo: NDArray[np.uint8], to_photo: NDArray[np.float64], size_mm: tuple[float, float]
) -> NDArray[np.uint8]:
    """The card laid flat, `PX_PER_MM` px a mm. to_photo: from the card's mm to the photo's px."""
    size = (round(size_mm[0] * PX_PER_MM), round(size_mm[1] * PX_PER_MM))
    return laid_flat(photo, to_photo @ np.diag([1 / PX_PER_MM, 1 / PX_PER_MM, 1.0]), size).gray


def _averaged(form: Form, others: Sequence[NDArray[np.uint8]]) -> Form:
    """The same form with a picture that all photos went into: each pixel their median, so that
    a shadow or a reflection in one of them is none of the form."""
    if not others:
        return form
    index = Index.of([form])
    pictures = [evened(form.picture)]
    for at, photo in enumerate(others, 2):
        match = registered(photo, index)
        if match is None:
            raise CounterfoilError(
                "This photo does not show the same empty card as the first",
                where=f"photo {at}",
                remedy="Leave it out, or take it again: the whole card, sharp, from above.",
            )
        pictures.append(evened(flat_picture(photo, match.whole_to_photo, form.size_mm)))
    middle = np.median(np.stack(pictures), axis=0)
    return replace(form, picture=np.asarray(np.round(middle), np.uint8))


def evened(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The picture in even light: its paper everywhere as light as in the middle of the range."""
    paper = cv2.morphologyEx(picture, cv2.MORPH_CLOSE, np.ones((41, 41), np.uint8))
    paper = cv2.GaussianBlur(paper, (0, 0), 20.0).astype(np.float32)
    return np.asarray(np.clip(picture / np.maximum(paper, 1.0) * 220, 0, 255), np.uint8)


def around_bars(bars: Corners, size_mm: tuple[float, float]) -> Polygon:
    """The bars and what is printed under them; in reading direction. bars: (4, 2), mm."""
    along = (bars[1] - bars[0]) / np.linalg.norm(bars[1] - bars[0])
    down = (bars[3] - bars[0]) / np.linalg.norm(bars[3] - bars[0])
    moves = (
        (-_BARS_SIDE_MM, -_BARS_OVER_MM), (_BARS_SIDE_MM, -_BARS_OVER_MM),
        (_BARS_SIDE_MM, _BARS_UNDER_MM), (-_BARS_SIDE_MM, _BARS_UNDER_MM),
    )  # fmt: skip
    around = [at + x * along + y * down for at, (x, y) in zip(bars, moves, strict=True)]
    return _polygon(np.clip(np.stack(around), (0.0, 0.0), size_mm))


def _polygon(corners: Corners) -> Polygon:
    return tuple((round(float(x), 2), round(float(y), 2)) for x, y in corners)

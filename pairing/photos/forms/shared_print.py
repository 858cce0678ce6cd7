"""A card's form from filled cards alone: what they share, laid one over the other, is the form.

A mark is the form's where nearly all cards have ink; what is written, stuck or stamped lies
elsewhere on each of them. The vote is taken twice: to lay cards over a first one that has writing
of its own is less exact than to lay them over what they share.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.errors import CounterfoilError
from pairing.model import Quad
from pairing.photos.forms.definition import NO_BOX, PX_PER_MM, Form, Polygon
from pairing.photos.forms.features import Index
from pairing.photos.forms.learning import (
    Corners,
    around_bars,
    check_corners,
    evened,
    flat_picture,
    no_box,
)
from pairing.photos.forms.printed_places import Rect, bounds, in_mm
from pairing.photos.forms.proposed_box import card_corners, own_bars, proposed_size
from pairing.photos.forms.registration import Match, registered
from pairing.photos.written.plane import corners_of, homography, inverse, mapped, rectangle

FEWEST = 6
"""Of fewer cards a leading digit that all numbers share could be taken for the form's."""
_LEAST_SHARED = 0.5
"""So many of the cards must fit over the first one."""
_LEAST_FIT_FIRST = 0.4
"""On a card that has writing of its own."""
_TRIED = 3
_MISSING = 1 / 8
"""Of the cards so many may lack a mark of the form: a strip or a thumb lies over it."""
_AS_DARK = 0.5
"""A card has a mark where it is so much as dark as half of the cards are there: between the
bars of strips that were stuck one where the other was it never is."""
_INK = 18
"""A mark is so many gray levels darker than evened paper, which has 220."""
_PAPER = 220
_SMOOTH_PX = 0.7
_EDGE_MM, _LINE_MM = 0.7, 0.6
"""The box's own rules lie within this of its edge; a line between two cells is no wider."""
_WORD_MM, _WORD_GAP_MM, _LETTERS = 6.0, 1.2, 5
"""A caption in the box is longer and has more letters, no farther apart."""
_LEAST_MARK_MM2 = 0.2
"""What strokes of many numbers have in common by chance is smaller."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedPrint:
    """picture: gray (h, w), what the cards share, `PX_PER_MM` px a mm. size_mm: width, height.
    bars: where the first card's own bars lie in the picture, px. cards: how many were laid over
    one another. to_picture: (3, 3), from the first photo's px to the picture's."""

    picture: NDArray[np.uint8]
    size_mm: tuple[float, float]
    bars: Quad | None
    cards: int
    to_picture: NDArray[np.float64]

    @property
    def corners(self) -> Corners:
        """The card's corners in the picture."""
        return rectangle(0.0, 0.0, *(round(v * PX_PER_MM) for v in self.size_mm))


def shared_print(
    photos: Sequence[NDArray[np.uint8]],
    corners: Corners,
    size_mm: tuple[float, float],
    bars: Quad | None = None,
) -> SharedPrint:
    """What filled cards share. corners, bars: the card's corners and its own bars in the first
    photo, px. Raises CounterfoilError where there are too few cards, or too few of one form."""
    if len(photos) < FEWEST:
        raise CounterfoilError(
            f"{len(photos)} filled cards are too few",
            where="--filled",
            remedy=f"Give photos of a dozen filled cards, {FEWEST} at least, or one of an empty "
            "card without --filled.",
        )
    check_corners(corners, photos[0].shape)
    to_first = homography(rectangle(0.0, 0.0, *size_mm), corners)
    own = (
        None if bars is None else around_bars(mapped(inverse(to_first), corners_of(bars)), size_mm)
    )
    first = evened(flat_picture(photos[0], to_first, size_mm))
    picture, many = first, 0
    for least in (_LEAST_FIT_FIRST, None):
        laid = [first, *_laid(photos[1:], _form(picture, size_mm, own), least)]
        many = len(laid)
        _check_shared(many, len(photos))
        picture = _voted(np.stack(laid))
    to_px = np.diag([PX_PER_MM, PX_PER_MM, 1.0]) @ inverse(to_first)
    place = None if bars is None else mapped(to_px, corners_of(bars))
    return SharedPrint(
        picture=picture,
        size_mm=size_mm,
        bars=None if place is None else _quad(place),
        cards=many,
        to_picture=to_px,
    )


def same_cards(photos: Sequence[NDArray[np.uint8]]) -> list[int]:
    """Which of the photos show one and the same card: as many as fit over one of the first few.
    Empty for fewer than `FEWEST`."""
    best: list[int] = []
    for at, first in enumerate(photos[:_TRIED]):
        bars = own_bars(first)
        corners = card_corners(first, bars)
        if corners is None:
            continue
        size_mm = proposed_size(corners, bars)
        to_first = homography(rectangle(0.0, 0.0, *size_mm), corners)
        index = Index.of([_form(evened(flat_picture(first, to_first, size_mm)), size_mm, None)])
        same = [at] + [
            other for other, photo in enumerate(photos)
            if other != at and registered(photo, index, least_fit=_LEAST_FIT_FIRST) is not None
        ]  # fmt: skip
        best = max(best, same, key=len)
        if len(best) > _LEAST_SHARED * len(photos):
            break
    return best if len(best) >= FEWEST else []


def _check_shared(many: int, given: int) -> None:
    if many < max(FEWEST, _LEAST_SHARED * given):
        raise CounterfoilError(
            f"Only {many} of these {given} photos show the same card as the first",
            where="--filled",
            remedy="Leave out photos of other cards and blurred ones; the first should be a sharp "
            "one.",
        )


def without_strays(form: Form) -> Form:
    """The form without marks in its number's box that are no words and no cell's border: where all
    numbers begin with the same digit, and all clerks begin at the box's edge, that digit may be
    what the cards share."""
    left, top, right, foot = bounds(form.box)
    ink = np.where(form.picture < _PAPER - _INK, np.uint8(255), np.uint8(0))
    _, labels, stats, _ = cv2.connectedComponentsWithStats(ink, connectivity=8)
    inside = [
        at for at in range(1, len(stats))
        if _is_inside(_rect(stats[at]), (left + _EDGE_MM, top + _EDGE_MM, right - _EDGE_MM,
                                         foot - _EDGE_MM))
    ]  # fmt: skip
    single = np.isin(labels, inside).astype(np.uint8)
    joined = cv2.dilate(single, np.ones((1, round(2 * _WORD_GAP_MM * PX_PER_MM)), np.uint8))
    _, groups, sizes, _ = cv2.connectedComponentsWithStats(joined)
    picture = form.picture.copy()
    for at in inside:
        x, y, wide, high, _ = stats[at].tolist()
        group = sizes[groups[labels == at][0]]
        parts = len(set(np.unique(labels[groups == groups[labels == at][0]]).tolist()) - {0})
        is_word = group[2] > _WORD_MM * PX_PER_MM and parts >= _LETTERS
        if not is_word and not _is_border(form, _rect(stats[at])):
            part = picture[y : y + high, x : x + wide]
            part[cv2.dilate((labels[y : y + high, x : x + wide] == at).astype(np.uint8),
                            np.ones((3, 3), np.uint8)) > 0] = _PAPER  # fmt: skip
    return replace(form, picture=picture)


def _rect(stats: NDArray[np.int32]) -> Rect:
    x, y, wide, high, _ = stats.tolist()
    return in_mm(x, y, x + wide, y + high)


def _is_inside(one: Rect, other: Rect) -> bool:
    return one[0] > other[0] and one[1] > other[1] and one[2] < other[2] and one[3] < other[3]


def _is_border(form: Form, mark: Rect) -> bool:
    """Whether a mark is part of a line between two cells of a comb."""
    if not form.cells or mark[2] - mark[0] > _LINE_MM:
        return False
    left, _, right, _ = bounds(form.box)
    pitch = (right - left) / form.cells
    place = ((mark[0] + mark[2]) / 2 - left) / pitch
    return abs(place - round(place)) * pitch < _LINE_MM


def _form(picture: NDArray[np.uint8], size_mm: tuple[float, float], bars: Polygon | None) -> Form:
    wide, high = size_mm
    place = no_box(rectangle(0.0, 0.0, wide, high), size_mm)
    box = tuple((float(x), float(y)) for x, y in place)
    return Form(name="shared", picture=picture, size_mm=size_mm, box=box, kind=NO_BOX, bars=bars)


def _laid(
    photos: Sequence[NDArray[np.uint8]], form: Form, least: float | None
) -> list[NDArray[np.uint8]]:
    """The cards laid over the form, those that fit."""
    index = Index.of([form])
    matches: list[tuple[NDArray[np.uint8], Match | None]] = [
        (photo, registered(photo, index, least_fit=least)) for photo in photos
    ]
    return [
        evened(flat_picture(photo, match.whole_to_photo, form.size_mm))
        for photo, match in matches if match is not None
    ]  # fmt: skip


def _voted(cards: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The paper with the marks that nearly all cards have. cards: (n, h, w) uint8."""
    middle = np.median(cards, axis=0)
    smooth = np.stack([cv2.GaussianBlur(card, (0, 0), _SMOOTH_PX) for card in cards])
    depth = _PAPER - smooth.astype(np.float32)
    least = np.maximum(_INK, _AS_DARK * np.median(depth, axis=0))
    is_shared = (depth > least).sum(0) >= np.ceil((1 - _MISSING) * len(cards))
    _, labels, stats, _ = cv2.connectedComponentsWithStats(is_shared.astype(np.uint8))
    is_mark = stats[:, cv2.CC_STAT_AREA] >= _LEAST_MARK_MM2 * PX_PER_MM**2
    is_shared &= is_mark[labels]
    return np.asarray(np.where(is_shared, middle, float(_PAPER)), np.uint8)


def _quad(corners: Corners) -> Quad:
    a, b, c, d = ((float(x), float(y)) for x, y in corners)
    return Quad(top_left=a, top_right=b, bottom_right=c, bottom_left=d)

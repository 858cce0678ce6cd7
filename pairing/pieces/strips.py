"""A strip with bars in a card's box: what was written over it, or beside it, speaks against it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.judge.box import Unread
from pairing.model import Quad, Reading, Side, Symbol, TrackingNumber
from pairing.photos.barcodes import card as cards
from pairing.photos.files import Frame
from pairing.photos.written import seen, shared_reader
from pairing.photos.written.box import BoxReading
from pairing.photos.written.frame import ink_of
from pairing.photos.written.one_sheet import share_on_sheet
from pairing.photos.written.pasted_slip import EVERY_SIDE, TOP, slip_on_card
from pairing.photos.written.plane import (
    PX_PER_MM,
    corners_of,
    homography,
    laid_flat,
    rectangle,
    stretch,
)
from pairing.photos.written.region import Region, content_of
from pairing.photos.written.ruled_cells import is_in_cell
from pairing.photos.written.strokes import is_struck_over, longest_stroke
from pairing.photos.written.unknown_card import read_unknown
from pairing.pieces.beside_strip import is_on, is_written_beside
from pairing.pieces.placed import Looked, Placed, print_differs, source_of

_QUIET_MM, _OVER_MM, _UNDER_MM = 2.0, 1.2, 4.6
"""A strip around its bars: at the sides, above, and below with its print. Common practice, no
source."""
_STRIP_PRINT = 5.0
"""A straight path of ink in the small print under bars, which runs together where a photo is
blurred, is no longer than so many heights of its characters. Measured on cards of
`tests/benchmarks/designs.py`, level hard: up to 3.3; struck out 8.7 and more."""
_INKED = 0.03
"""Under bars without print less is inked: 22 digits of 2 mm fill a tenth of that place."""
_BARS_MM = 48.0
"""A strip's bars are about so long: 20 or 22 digits at 0.3 mm. Common practice, no source."""
_BESIDE_MM, _ABOVE_MM = 26.0, 7.0
"""On a card of no known form, how far from a strip something is looked for that was written
beside it."""
_ON_SHEET = 0.75
"""Of the places right beyond a slip so many are reached from the card's own bars on one paper.
Measured on cards drawn by `tests.benchmarks.lost`, seeds 2000 to 2031: 0.79 and more; of labels
on an envelope that a card lies on (`tests/forms/test_strips.py`) none."""
_MOST_MORE = 2
"""Characters. With more the print would be another number's."""
_WITH_PRINT_ALONG, _WITH_PRINT_BELOW = (-0.75, 0.75), (-0.3, 0.45)
"""A strip and its print, from the middle of its bars, in their lengths."""


def strip_in_place(
    frame: Frame, placed: Sequence[Placed], own: cards.Standing | None
) -> Placed | None:
    """The one strip that is in the box of a card of no known form, put there; None where there is
    none, or more than one, or where its place leaves doubt.

    Rules of the form enclose it, or its paper ends on the card on all sides. One that is not below
    the card's own bars counts only if nothing else on the card can be the number.
    """
    card = None if own is None else own.symbol
    low = [
        one for one in placed
        if one.reading.side is Side.BOX or (one.is_article and _may_be_strip(one, card))
    ]  # fmt: skip
    if len(low) != 1:
        return None
    (strip,) = low
    is_below = strip.reading.side is Side.BOX
    if not _is_on_card(frame.gray, strip, card, is_below=is_below):
        return None
    if is_below:
        return strip
    number = "" if card is None else card.text
    others = read_unknown(frame.gray, card.quad if card else None, number, shared_reader()).lines
    if any(not _is_print_of(strip, line.inked()) for line in others):
        return None
    return replace(strip, reading=replace(strip.reading, side=Side.BOX))


def _may_be_strip(one: Placed, card: Symbol | None) -> bool:
    """Whether bars are low enough for a strip's; of doubtful height only beside the card's own."""
    if cards.is_low(one.standing, card):
        return True
    if card is None or one.reading.side is not Side.UNPLACED:
        return False
    return cards.may_be_low(one.standing, card) or cards.is_under_label(one.standing, card)


def _is_on_card(
    photo: NDArray[np.uint8], strip: Placed, card: Symbol | None, *, is_below: bool
) -> bool:
    """Whether a strip is seen to lie in a cell of the form, or pasted on the card's paper.
    is_below: it lies right under the card's own bars, so that there is card above it."""
    bars = strip.standing.symbol.quad
    slip = slip_on_card(photo, bars)
    is_low = is_below or cards.is_low(strip.standing, card)
    if is_low and slip.sides >= (EVERY_SIDE - {TOP} if is_below else EVERY_SIDE):
        return True
    if not is_low and card is not None and slip.sides == EVERY_SIDE:
        # Bars nearly as tall as a label's: it could lie beside the card on the envelope.
        is_under = cards.is_under_label(strip.standing, card)
        if is_under and share_on_sheet(photo, card.quad, slip.beyond) >= _ON_SHEET:
            return True
    if not is_low and (card is None or not cards.may_be_low(strip.standing, card)):
        return False
    own = None if card is None else card.quad
    return is_in_cell(photo, own, bars, is_hull_enough=len(slip.sides) >= len(EVERY_SIDE) - 1)


def _is_print_of(strip: Placed, line: Quad) -> bool:
    bars = strip.standing.symbol.quad
    quad = stretch(bars, along=_WITH_PRINT_ALONG, below=_WITH_PRINT_BELOW)
    around = np.array(quad.corners, np.float32)
    return cv2.pointPolygonTest(around.reshape(-1, 1, 2), line.center, measureDist=False) >= 0


def why_not_strip(
    photo: NDArray[np.uint8],
    strip: Placed,
    read: BoxReading,
    region: Region | None = None,
    *,
    card: Quad | None = None,
) -> Unread | None:
    """Why a strip whose bars were read may not count; None for no reason. read: its print. region:
    the box that it is in; None on a card of no known form, where the paper around the strip is
    looked at. card: the card's own bars; the number under them may be there."""
    bars, number = strip.standing.symbol.quad, strip.reading.number
    same = _same_print(read, number.text)

    def places(region: Region) -> tuple[NDArray[np.float64], NDArray[np.float64] | None]:
        own = None if same is None else region.plane.place(corners_of(same))
        return _strip_corners(region, bars)[0], own

    if region is None:
        region = _around(photo, bars)
        if is_written_beside(photo, region, card, bars, places):
            return Unread.OTHER_WRITING
    else:
        corners, own_print = places(region)
        content = content_of(region, strip=corners)
        if content.is_covered:
            return Unread.CUT
        rows = (*content.rows, content.left_over)
        if any(not is_on(own_print, mark) for row in rows for mark in row):
            return Unread.OTHER_WRITING
    (_, long_mm), (_, own_print) = _strip_corners(region, bars), places(region)
    if is_struck_over(photo, bars, long_mm) or _is_print_struck(region, bars, own_print):
        return Unread.STRUCK
    if _is_print_with_more(read, number.text):
        return Unread.OTHER_WRITING
    if isinstance(number, TrackingNumber) and print_differs(read, number):
        return None  # Both readings of the box are told, and no piece agrees.
    if same is None and _is_inked_under(region, bars):
        return Unread.NO_NUMBER  # It may have been struck out or written over.
    return None


def _same_print(read: BoxReading, text: str) -> Quad | None:
    """Where the print under a strip's bars lies in the photo; None unless it was read whole and
    says what they do: it may reach beyond them on both sides."""
    if read.line is None or read.line.best != text:
        return None
    return read.used[0].inked()


def _is_print_with_more(read: BoxReading, text: str) -> bool:
    """Whether the print under a strip's bars says what they do and a character or two more before
    or after: what stands beside the strip, a comb's corner, was taken for a digit."""
    best = "" if read.line is None else read.line.best
    return len(text) < len(best) <= len(text) + _MOST_MORE and text in best


def refused_strip(
    frame: Frame, placed: Sequence[Placed], box: Quad, reason: Unread, *, is_by_shape: bool
) -> Looked:
    """A strip that does not count: its bars are no reading of the box."""
    nothing = BoxReading(line=None, reason=reason, lines=(), used=())
    what = seen(nothing, source=source_of(frame), box=box, is_by_shape=is_by_shape, has_bars=True)
    return Looked(readings=tuple(_unplaced(one) for one in placed), seen=what)


def _unplaced(one: Placed) -> Reading:
    is_strip = one.reading.side is Side.BOX
    return replace(one.reading, side=Side.UNPLACED) if is_strip else one.reading


def _around(photo: NDArray[np.uint8], bars: Quad) -> Region:
    """The paper around a strip as a region; nothing is known to be printed there."""
    corners = corners_of(bars)
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    high_mm = _BARS_MM * float(sides[1] + sides[3]) / max(1.0, float(sides[0] + sides[2]))
    left, top = _QUIET_MM + _BESIDE_MM, _OVER_MM + _ABOVE_MM
    wide_mm, tall_mm = _BARS_MM + 2 * left, high_mm + top + _UNDER_MM + _ABOVE_MM
    flat = rectangle(left, top, _BARS_MM, high_mm) * PX_PER_MM
    size = (round(wide_mm * PX_PER_MM), round(tall_mm * PX_PER_MM))
    plane = laid_flat(photo, homography(flat, corners), size)
    box = rectangle(0.0, 0.0, float(size[0]), float(size[1]))
    return Region(plane=plane, box=box, printed=np.zeros(plane.gray.shape, np.uint8))


def _is_print_struck(region: Region, bars: Quad, own_print: NDArray[np.float64] | None) -> bool:
    """Whether a stroke runs through what is printed under a strip's bars. own_print: where that
    print lies in the region's plane, (4, 2); None where it was not read."""
    content = content_of(replace(region, box=_under(region, bars)))
    strip = np.zeros(content.ink.shape, np.uint8)
    for place in (_strip_corners(region, bars)[0], own_print):
        if place is not None:
            cv2.fillPoly(strip, [np.round(place).astype(np.int32)], (255,))
    # A rule of the form that a strip lies over goes on beside it.
    paper = np.uint8(np.percentile(content.clean[strip > 0], 75)) if strip.any() else np.uint8(255)
    clean = np.where(strip > 0, content.clean, paper)
    strokes = [longest_stroke(clean, content.ink & strip, row) for row in content.rows]
    return any(one.straight > _STRIP_PRINT for one in strokes)


def _is_inked_under(region: Region, bars: Quad) -> bool:
    """Whether anything is printed or written under a strip's bars."""
    under = np.zeros(region.plane.gray.shape, np.uint8)
    cv2.fillPoly(under, [np.round(_under(region, bars)).astype(np.int32)], (255,))
    inked = ink_of(region.plane.gray)[under > 0] > 0
    return bool(inked.mean() > _INKED) if len(inked) else False


def _under(region: Region, bars: Quad) -> NDArray[np.float64]:
    """Corners (4, 2) of the place of a strip's print in the region's plane."""
    corners, _ = _strip_corners(region, bars)
    flat = region.plane.place(corners_of(bars))
    corners[:2] = flat[[3, 2]] + (corners[:2] - flat[:2]) * (1.0, -0.1)
    return corners


def _strip_corners(region: Region, bars: Quad) -> tuple[NDArray[np.float64], float]:
    """The strip in the region's plane, px, and the length of its bars, mm."""
    flat = region.plane.place(corners_of(bars)) / PX_PER_MM
    along = (flat[1] - flat[0]) / max(1e-6, float(np.linalg.norm(flat[1] - flat[0])))
    down = (flat[3] - flat[0]) / max(1e-6, float(np.linalg.norm(flat[3] - flat[0])))
    moves = (
        (-_QUIET_MM, -_OVER_MM), (_QUIET_MM, -_OVER_MM), (_QUIET_MM, _UNDER_MM),
        (-_QUIET_MM, _UNDER_MM),
    )  # fmt: skip
    corners = [at + x * along + y * down for at, (x, y) in zip(flat, moves, strict=True)]
    return np.stack(corners) * PX_PER_MM, float(np.linalg.norm(flat[1] - flat[0]))

"""Which side of the piece a symbol is on, from its place next to the card's own barcode.

The box lies just below the card's barcode. Distances here are in lengths of that barcode
(22 digits at 0.33 mm are about 52 mm), measured from its center along its own reading
direction and downwards from it, so that a photo may be turned or upside down.

A symbol counts as the label's only if its bars are as tall as the standards want them, as a
strip's only if they are not: place alone would let a label that lies under the card's barcode be
its own box. Measured on `sample_scans`: labels 36 to 56 X, strips 14 to 17 X. The zone of the box
is common practice, no source. The card of an S10 item (CN 07) has no number of its own, so nothing
on it tells where the box is: a strip's bars there stay unplaced, and the piece is unread until a
person says what is written in the box.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from pairing.model import Quad, Side, Symbol
from pairing.photos.barcodes.quads import height_px, length_px

BOX_ALONG = 0.75
BOX_BELOW = (0.15, 0.60)
"""Where the center of a strip in the box lies. Common practice, no source: a box of 10 mm
whose middle is 12 to 22 mm below the middle of a 52 mm barcode, with room for oblique views."""

DOUBT_ALONG = 1.5
DOUBT_BELOW = 1.2
"""Around that zone the place leaves doubt: a strip pasted off the box, or a label that lies
on the card; above as well as below, for the card reaches both ways."""

LABEL_LEAST_X = 23.0
STRIP_MOST_X = 22.0
"""How tall bars are that may be a label's or a strip's, in X. A label's are at least 0.5 in at
no more than 21 mils (BCOCA), 23.8 X, and 12.5 mm at no more than 0.51 mm (UPU S10-12 section
8), 24.5 X, less a little for measuring; no symbol may be taken for both."""

_DOUBTFUL_X = 27.0
"""Bars so tall are a strip's or a label's: a label's have them only if its narrow bar is 0.46 mm
and more (12.5 mm, UPU S10-12 section 8), wider than on any card seen."""

_OWN_BARS_MM = 52.0
"""A card's own bars: 22 digits at 0.33 mm. Common practice, no source."""
_STRIP_MOST_MM = 10.5
"""In that scale a label's bars of 12.5 mm and more (UPU S10-12 section 8; 0.5 in, BCOCA) are taller
unless the card's own are longer than 61 mm, a narrow bar of 0.39 mm."""

_STRIP_LEAST_X = 9.0
"""Print of 2.5 mm is 8 X high at a narrow bar of 0.33 mm; the bars of strips are 14 and more.
Common practice, no source."""

MOST_TILT_DEG = 15.0
"""A pasted strip is more or less parallel to the barcode above it. Common practice, no source."""

SCALE_RATIO = (0.5, 2.0)
"""A strip's narrow bar beside the card's: 13 to 21 mils are allowed (BCOCA), in one plane."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Offset:
    """A point as seen from a barcode: `along` its reading direction and `below` it, both in
    lengths of that barcode, and `tilt_deg` of another symbol against it (-90 to 90)."""

    along: float
    below: float
    tilt_deg: float


def offset(card: Quad, other: Quad) -> Offset:
    """Where `other` lies as seen from the card's barcode."""
    (cx, cy), (ox, oy) = card.center, other.center
    ex, ey = _direction(card)
    length = math.hypot(ex, ey) or 1.0
    ux, uy = ex / length, ey / length
    dx, dy = ox - cx, oy - cy
    px, py = _direction(other)
    turn = math.degrees(math.atan2(ux * py - uy * px, ux * px + uy * py))
    return Offset(
        along=(dx * ux + dy * uy) / length,
        below=(dy * ux - dx * uy) / length,
        tilt_deg=(turn + 90.0) % 180.0 - 90.0,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A symbol and how tall its bars were measured to be, in X (0 where not measured)."""

    symbol: Symbol
    height_x: float


def own_barcode(cards: Sequence[Standing]) -> Standing | None:
    """Which of a frame's card numbers is the card's own; None where there is none or doubt.

    cards: the symbols that bear a number of the card role. A second one is the card's own
    number pasted in the box only if it lies in the first one's box and not the reverse.
    """
    if len(cards) == 1:
        return cards[0]
    if len(cards) != 2:
        return None
    one, other = cards
    below, above = _holds(one, other), _holds(other, one)
    if below == above:
        return None
    return one if below else other


def place(seen: Standing, card: Standing | None, *, photographed: Side | None) -> Side:
    """The side that a symbol is on: LABEL, BOX, or UNPLACED for doubt.

    card: the card's own barcode in the same frame, None where none was read for certain.
    photographed: what the frame is said to show (LABEL or CARD), None where nothing says so.

    Place alone does not do: a label lying under the card's barcode would count as its own
    box. So a label's bars must be as tall as a label's, and a strip's must not be.
    """
    if card is not None and _holds(card, seen):
        return Side.BOX
    if seen.height_x < LABEL_LEAST_X or photographed is Side.CARD:
        return Side.UNPLACED
    if card is None:
        return Side.LABEL
    at = offset(card.symbol.quad, seen.symbol.quad)
    near = abs(at.along) <= DOUBT_ALONG and abs(at.below) <= DOUBT_BELOW
    return Side.UNPLACED if near else Side.LABEL


def is_low(seen: Standing, card: Symbol | None) -> bool:
    """Whether bars are too low for a label's: measured in their own X, or in that of the card that
    they lie on. 12.5 mm are 23.6 X at the widest narrow bar allowed, whichever symbol has it."""
    if seen.height_x <= 0:
        return False
    if seen.height_x <= STRIP_MOST_X:
        return True
    if card is None or not card.x_px or not seen.symbol.is_measured:
        return False
    return _one_scale(card, seen.symbol) and height_px(seen.symbol.quad) <= STRIP_MOST_X * card.x_px


def may_be_low(seen: Standing, card: Symbol) -> bool:
    """Whether bars are of a height that a strip has and hardly a label, in the scale of the card
    beside it: only a place that no label has, a cell of the card's form, can tell."""
    return 0 < seen.height_x <= _DOUBTFUL_X and _one_scale(card, seen.symbol)


def is_under_label(seen: Standing, card: Symbol) -> bool:
    """Whether bars are lower than a label's, taken to lie in the plane of the card: where they do,
    what else is seen around them must tell."""
    own = max(1.0, length_px(card.quad))
    high_mm = _OWN_BARS_MM * height_px(seen.symbol.quad) / own
    is_low = seen.symbol.is_measured and high_mm <= _STRIP_MOST_MM
    return is_low and seen.height_x > 0 and _one_scale(card, seen.symbol)


def is_in_box(card: Symbol, bars: Quad) -> bool:
    """Whether bars that were not read lie where the box of this card's own barcode is, in its
    plane; what they say decides nothing here. Lower than `_STRIP_LEAST_X` it is a line of print."""
    is_tall = height_px(bars) >= _STRIP_LEAST_X * card.x_px
    return is_tall and _in_box(offset(card.quad, bars))


def _holds(card: Standing, seen: Standing) -> bool:
    """Whether `seen` lies in the box below `card`, in its plane and scale, and fits there."""
    return (
        is_low(seen, card.symbol)
        and _in_box(offset(card.symbol.quad, seen.symbol.quad))
        and _one_scale(card.symbol, seen.symbol)
    )


def _in_box(seen: Offset) -> bool:
    return (
        abs(seen.along) <= BOX_ALONG
        and BOX_BELOW[0] <= seen.below <= BOX_BELOW[1]
        and abs(seen.tilt_deg) <= MOST_TILT_DEG
    )


def _one_scale(card: Symbol, symbol: Symbol) -> bool:
    if not card.x_px or not symbol.x_px:
        return False
    return SCALE_RATIO[0] <= symbol.x_px / card.x_px <= SCALE_RATIO[1]


def _direction(quad: Quad) -> tuple[float, float]:
    """From the middle of the quad's left edge to the middle of its right one, px."""
    left_x = (quad.top_left[0] + quad.bottom_left[0]) / 2
    left_y = (quad.top_left[1] + quad.bottom_left[1]) / 2
    right_x = (quad.top_right[0] + quad.bottom_right[0]) / 2
    right_y = (quad.top_right[1] + quad.bottom_right[1]) / 2
    return right_x - left_x, right_y - left_y

"""How people change the number in a box with another pen than the one that wrote it.

All of it is invented. Each kind writes on a `Filled` card; sizes in mm.
"""

from __future__ import annotations

from pairing.demo.hand import BALLPOINT_BLACK, BALLPOINT_BLUE, FOUNTAIN_BLUE, GEL_BLACK
from pairing.demo.sheet import Color
from tests.benchmarks.corrections import (
    digit_by,
    line_of,
    make_another,
    other_than,
    pitch_of,
    place_of,
)
from tests.benchmarks.drawn_cards import Filled, digit_at

_BLUES, _BLACKS = (BALLPOINT_BLUE, FOUNTAIN_BLUE), (BALLPOINT_BLACK, GEL_BLACK)
_OTHERS = ((170, 34, 40), (20, 110, 60))


def _other_ink(card: Filled) -> Color:
    """A pen of another color than the writer's."""
    own = card.pen
    inks = (*(_BLACKS if own in _BLUES else _BLUES), *_OTHERS)
    return inks[int(card.rng.integers(len(inks)))]


def other_ink_over(card: Filled) -> None:
    """Another digit was written over one in another ink."""
    ink = line_of(card)
    place = place_of(card) or 0
    at = (digit_at(card, ink, place), ink[1] + card.rng.uniform(0.92, 1.02) * ink[3])
    tall = card.rng.uniform(0.8, 1.0) * ink[3]
    digit_by(card, other_than(card, place), at, tall, ink=_other_ink(card))


def other_ink_stroke(card: Filled) -> None:
    """Strokes in another ink made another digit of one."""
    make_another(card, _other_ink(card))


def other_ink_digit(card: Filled) -> None:
    """The place of a digit was left free, and it was filled in in another ink."""
    text, place = card.article, place_of(card) or 0
    if card.person is None:
        other_ink_over(card)
        return
    # A blank digit keeps the place: it is rubbed out as if it had never been written.
    ink = line_of(card)
    x, wide = digit_at(card, ink, place), 0.95 * pitch_of(card, ink)
    card.stroke((x, ink[1] - 0.3), (x, ink[1] + ink[3] + 0.3), pen=wide, ink=card.design.stock)
    digit_by(card, text[place], (x, ink[1] + ink[3]), 0.92 * ink[3], ink=_other_ink(card))


KINDS = (other_ink_over, other_ink_stroke, other_ink_digit)

"""How people alter the number in a box: it is struck out, corrected, added to, stuck over.

All of it is invented. Each kind writes on a `Filled` card; sizes in mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from pairing.demo.paper import grouped, write
from pairing.demo.sheet import Sheet
from tests.benchmarks import altered_strips as strips
from tests.benchmarks import corrections, second_inks
from tests.benchmarks.designs import DESIGNS, Design, Rect
from tests.benchmarks.drawn_cards import Filled, article_number, card_to_fill, digit_at, through
from tests.benchmarks.people import people, person

RED = (170, 34, 40)
PENCIL = (120, 120, 122)


def _middle(ink: Rect, share: float = 0.5) -> float:
    return ink[1] + share * ink[3]


def _digits(card: Filled) -> int:
    return len(card.article)


def _at(card: Filled, ink: Rect, place: int) -> float:
    return digit_at(card, ink, place)


def _any_place(card: Filled, but: str = "") -> int:
    return int(card.rng.choice([n for n, c in enumerate(card.article) if c not in but]))


def _pitch(card: Filled, ink: Rect) -> float:
    last = _digits(card) - 1 if card.middles else 1
    return (_at(card, ink, last) - _at(card, ink, 0)) / last


def whole_struck(card: Filled) -> None:
    """One stroke through the number."""
    ink = card.line(grouped(card.article))
    through(card, ink[0] - 0.6, ink[0] + ink[2] + 0.6, _middle(ink, 0.55))


def box_struck(card: Filled) -> None:
    """One stroke from side to side of the box."""
    ink = card.line(grouped(card.article))
    left, _, wide, _ = card.design.box
    through(card, left + 0.4, left + wide - 0.4, _middle(ink, 0.5))


def box_struck_as_rule(card: Filled) -> None:
    """A straight line from side to side, as wide as the form's rules and of their color."""
    ink = card.line(grouped(card.article))
    left, _, wide, _ = card.design.box
    y = _middle(ink, 0.5)
    card.stroke((left, y), (left + wide, y), pen=card.design.rule_mm, ink=card.design.ink)


def struck_twice(card: Filled) -> None:
    """Two strokes through the number."""
    ink = card.line(grouped(card.article))
    for share in (0.35, 0.7):
        through(card, ink[0] - 0.6, ink[0] + ink[2] + 0.6, _middle(ink, share))


def struck_wavy(card: Filled) -> None:
    """A wavy stroke through the number."""
    ink = card.line(grouped(card.article))
    xs = np.linspace(ink[0] - 0.5, ink[0] + ink[2] + 0.5, 60)
    waves = card.rng.uniform(4, 9)
    share = (xs - xs[0]) / (xs[-1] - xs[0])
    ys = _middle(ink) + 0.22 * ink[3] * np.sin(share * 2 * math.pi * waves)
    card.stroke(*zip(xs.tolist(), ys.tolist(), strict=True))


def struck_slanting(card: Filled) -> None:
    """A stroke from the lower left to the upper right of the number."""
    ink = card.line(grouped(card.article))
    card.stroke((ink[0], ink[1] + ink[3]), (ink[0] + ink[2], ink[1]))


def crossed(card: Filled) -> None:
    """An X over the whole number."""
    ink = card.line(grouped(card.article))
    left, top, right, foot = ink[0], ink[1] - 0.5, ink[0] + ink[2], ink[1] + ink[3] + 0.5
    card.stroke((left, foot), (right, top))
    card.stroke((left, top), (right, foot))


def struck_in_pencil(card: Filled) -> None:
    """A faint stroke in pencil through the number."""
    ink = card.line(grouped(card.article))
    through(card, ink[0], ink[0] + ink[2], _middle(ink), ink=PENCIL, strength=0.55, pen=0.45)


def struck_in_red(card: Filled) -> None:
    """A stroke in red."""
    ink = card.line(grouped(card.article))
    through(card, ink[0] - 0.5, ink[0] + ink[2] + 0.5, _middle(ink), ink=RED, pen=0.5)


def group_struck(card: Filled) -> None:
    """One printed group was struck out."""
    ink, group = card.line(grouped(card.article)), int(card.rng.integers(0, 5))
    half = 0.55 * _pitch(card, ink)
    left, right = _at(card, ink, 4 * group) - half, _at(card, ink, 4 * group + 3) + half
    through(card, left, right, _middle(ink))


def two_digits_struck(card: Filled) -> None:
    """Two digits of a group were struck out."""
    ink = card.line(grouped(card.article))
    place = 4 * int(card.rng.integers(0, 5)) + int(card.rng.integers(0, 3))
    half = 0.6 * _pitch(card, ink)
    left, right = _at(card, ink, place) - half, _at(card, ink, place + 1) + half
    through(card, left, right, _middle(ink))


def digit_struck(card: Filled) -> None:
    """One digit was struck out by a level stroke."""
    ink, place = card.line(grouped(card.article)), _any_place(card, but="07")
    half = 0.62 * _pitch(card, ink)
    x = _at(card, ink, place)
    through(card, x - half, x + half, _middle(ink))


def digit_slashed(card: Filled) -> None:
    """One digit, no zero, was struck out by a slanting stroke."""
    ink, place = card.line(grouped(card.article)), _any_place(card, but="0")
    x, half = _at(card, ink, place), 0.45 * _pitch(card, ink)
    card.stroke((x - half, ink[1] + 1.12 * ink[3]), (x + half, ink[1] - 0.12 * ink[3]))


def digit_struck_thrice(card: Filled) -> None:
    """Three short strokes through one digit."""
    ink, place = card.line(grouped(card.article)), _any_place(card)
    half, x = 0.55 * _pitch(card, ink), _at(card, ink, place)
    for share in (0.25, 0.5, 0.75):
        through(card, x - half, x + half, _middle(ink, share))


def digit_scribbled(card: Filled) -> None:
    """One digit was scribbled over."""
    ink, place = card.line(grouped(card.article)), _any_place(card)
    half, x = 0.5 * _pitch(card, ink), _at(card, ink, place)
    points = [(x + card.rng.uniform(-half, half), ink[1] + card.rng.uniform(0, ink[3]))
              for _ in range(12)]  # fmt: skip
    card.stroke(*points)


def digit_scribbled_faintly(card: Filled) -> None:
    """One digit was scribbled over in pencil."""
    ink, place = card.line(grouped(card.article)), _any_place(card)
    half, x = 0.5 * _pitch(card, ink), _at(card, ink, place)
    points = [(x + card.rng.uniform(-half, half), ink[1] + card.rng.uniform(0, ink[3]))
              for _ in range(10)]  # fmt: skip
    card.stroke(*points, ink=PENCIL, strength=0.7)


def dots_below(card: Filled) -> None:
    """Dots under a group: it is not to count."""
    ink, group = card.line(grouped(card.article)), int(card.rng.integers(0, 5))
    foot = ink[1] + ink[3] + 0.9
    for place in range(4 * group, 4 * group + 4):
        x = _at(card, ink, place)
        card.stroke((x, foot), (x + 0.12, foot + 0.05), pen=0.55)


def overwritten(card: Filled) -> None:
    """One digit was made another by writing that on top."""
    ink, place = card.line(grouped(card.article)), _any_place(card)
    _write_over(card, ink, place, card.hand.pen_mm)


def overwritten_boldly(card: Filled) -> None:
    """The same with a pressed pen."""
    ink, place = card.line(grouped(card.article)), _any_place(card)
    _write_over(card, ink, place, card.hand.pen_mm + 0.3)


def _write_over(card: Filled, ink: Rect, place: int, pen: float) -> None:
    other = str((int(card.article[place]) + int(card.rng.integers(1, 10))) % 10)
    hand = replace(card.hand, pen_mm=pen)
    tall = 0.8 * ink[3]
    at = (_at(card, ink, place) - 0.55 * tall, ink[1] + 0.92 * ink[3], 8.0, tall)
    write(card.sheet, other, hand, at, card.rng)


def corrected_above(card: Filled) -> None:
    """Another digit is written above one that was struck out."""
    _, top, _, high = card.writing
    ink = card.line(grouped(card.article), foot=top + high - 0.5, tall=min(4.0, 0.42 * high))
    place = _any_place(card)
    x, half = _at(card, ink, place), 0.45 * _pitch(card, ink)
    through(card, x - half, x + half, _middle(ink))
    other = str((int(card.article[place]) + 3) % 10)
    write(card.sheet, other, card.hand, (x - 1.2, ink[1] - 0.4, 8.0, 0.7 * ink[3]), card.rng)


def inserted(card: Filled) -> None:
    """A digit was put in above, with a caret below."""
    _, top, _, high = card.writing
    ink = card.line(grouped(card.article), foot=top + high - 0.6, tall=min(4.0, 0.42 * high))
    place = int(card.rng.integers(1, _digits(card) - 1))
    x = (_at(card, ink, place) + _at(card, ink, place - 1)) / 2
    write(card.sheet, str(card.rng.integers(10)), card.hand,
          (x - 0.9, ink[1] - 0.3, 8.0, 0.65 * ink[3]), card.rng)  # fmt: skip
    foot = ink[1] + ink[3]
    card.stroke((x - 0.7, foot + 0.7), (x, foot - 0.3), (x + 0.7, foot + 0.7), pen=0.3)


def two_numbers(card: Filled) -> None:
    """Another number is written below it."""
    _, top, _, high = card.writing
    card.line(grouped(card.article), foot=top + 0.46 * high, tall=min(3.6, 0.34 * high))
    card.line(grouped(article_number(card.rng)), foot=top + 0.93 * high, tall=min(3.6, 0.34 * high))


def struck_and_new(card: Filled) -> None:
    """A wrong number was struck out and the label's written below."""
    _, top, _, high = card.writing
    wrong = grouped(article_number(card.rng))
    ink = card.line(wrong, foot=top + 0.44 * high, tall=min(3.4, 0.32 * high))
    through(card, ink[0] - 0.5, ink[0] + ink[2] + 0.5, _middle(ink))
    card.line(grouped(card.article), foot=top + 0.93 * high, tall=min(3.6, 0.34 * high))


def void_after(card: Filled) -> None:
    """The word VOID after the number."""
    left, _, wide, _ = card.writing
    design = card.design
    card.design = replace(design, box=(left, design.box[1], wide * 0.8, design.box[3]))
    ink = card.line(grouped(card.article))
    card.design = design
    x = min(ink[0] + ink[2] + 1.5, left + wide - 9.0)
    write(card.sheet, "VOID", card.hand, (x, ink[1] + ink[3], 12.0, 0.8 * ink[3]), card.rng)


def pasted_over(card: Filled) -> None:
    """A slip with another digit was pasted over one."""
    ink, place = card.line(grouped(card.article)), _any_place(card)
    slip = Sheet(width_mm=1.0 * _pitch(card, ink), height_mm=ink[3] + 1.6, stock=card.design.stock)
    other = str((int(card.article[place]) + int(card.rng.integers(1, 10))) % 10)
    write(slip, other, card.hand, (0.05, ink[3] + 0.6, 8.0, 0.8 * ink[3]), card.rng)
    card.sheet.paste(slip, x_mm=_at(card, ink, place), y_mm=_middle(ink), angle_deg=1.0)


def group_missing(card: Filled) -> None:
    """One group was not written."""
    groups, gone = grouped(card.article).split(), int(card.rng.integers(0, 5))
    card.line(" ".join(groups[:gone] + groups[gone + 1 :]))


KINDS: dict[str, Callable[[Filled], None]] = {
    kind.__name__: kind
    for kind in (
        whole_struck, box_struck, box_struck_as_rule, struck_twice, struck_wavy, struck_slanting,
        crossed, struck_in_pencil, struck_in_red, group_struck, two_digits_struck, digit_struck,
        digit_slashed, digit_struck_thrice, digit_scribbled, digit_scribbled_faintly, dots_below,
        overwritten, overwritten_boldly, corrected_above, inserted, two_numbers, struck_and_new,
        void_after, pasted_over, group_missing, strips.print_struck, strips.print_group_struck,
        strips.bars_struck, strips.bars_crossed, strips.bars_print_struck,
        strips.hand_beside_strip, strips.other_bars, strips.other_symbol, strips.torn_strip,
        strips.overlaid_strip, strips.doubled_strip, strips.shifted_strip, *corrections.KINDS,
        *second_inks.KINDS,
    )
}  # fmt: skip
TWO_LINES = frozenset(
    ("two_numbers", "struck_and_new", "corrected_above", "inserted", "dots_below")
)
"""Kinds for which a comb has no room."""


def altered_card(kind: str, design: str, seed: int) -> Filled:
    """A card of that design, altered so."""
    return altered_on(kind, DESIGNS[design], seed)


def altered_on(kind: str, design: Design, seed: int, *, by_people: bool = False) -> Filled:
    """The same of any design. by_people: filled in as it comes, by one whose digits lie in
    `shared`."""
    rng = np.random.default_rng([seed, *kind.encode(), *design.name.encode()])
    card = card_to_fill(design, rng)
    if by_people and (names := people()):
        card.person = person(names[int(rng.integers(len(names)))], seed)
        card.is_loose = True
    KINDS[kind](card)
    return card

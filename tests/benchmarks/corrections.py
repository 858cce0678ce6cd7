"""How people correct single digits of the number in a box; `alterations` has the rest.

All of it is invented. Each kind writes on a `Filled` card whose label has the number that was
written first; sizes in mm.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from pairing.demo.paper import grouped, write
from pairing.demo.sheet import BOLD, PX_PER_MM, SANS, Color, Sheet, Type
from tests.benchmarks.designs import INK_BLACK, WHITE, Rect
from tests.benchmarks.drawn_cards import Filled, digit_at, through
from tests.benchmarks.people import write_number

_FLUID, _TAPE = (250, 250, 248), (246, 246, 242)
_MADE = {
    "1": (((-0.42, 0.06), (0.02, 0.0)), ((-0.34, 0.08), (-0.36, 0.55), (0.26, 0.55))),
    "3": (((-0.22, 0.14), (-0.3, 0.3), (-0.04, 0.48), (-0.3, 0.72), (-0.2, 0.9)),),
    "0": (((-0.3, 0.45), (0.0, 0.53), (0.3, 0.46)), ((0.2, -0.28), (-0.14, -0.02), (-0.28, 0.3)),
          ((0.3, 0.3), (0.3, 1.25))),
    "5": (((-0.28, 0.42), (-0.33, 0.75), (-0.15, 0.98)),),
    "6": (((0.02, 0.04), (0.28, 0.14), (0.24, 0.38), (-0.06, 0.5)),),
    "9": (((-0.05, 0.5), (-0.3, 0.76), (0.0, 0.98), (0.24, 0.72)),),
    "4": (((-0.32, 0.02), (0.22, -0.02)),),
    "7": (((-0.3, 0.06), (-0.3, 0.4), (0.15, 0.46)),),
}  # fmt: skip
"""Strokes that make another digit of one: of its height to the right of its middle and down from
its top. A 1 becomes a 7 or a 4, a 3, 0, 6 or 9 an 8, a 0 a 6 or a 9, a 5 a 6, a 4 or a 7 a 9."""


def line_of(card: Filled) -> Rect:
    """The number of the label, written; left, top, width, height of its ink."""
    return card.line(grouped(card.article))


def place_of(card: Filled, among: str = "0123456789") -> int | None:
    """The place of a digit that is one of these; None for none."""
    places = [at for at, char in enumerate(card.article) if char in among]
    return int(card.rng.choice(places)) if places else None


def pitch_of(card: Filled, ink: Rect) -> float:
    """How far apart the digits are, mm."""
    last = len(card.article) - 1
    return (digit_at(card, ink, last) - digit_at(card, ink, 0)) / last


def other_than(card: Filled, place: int) -> str:
    """Another digit than the one there."""
    return str((int(card.article[place]) + int(card.rng.integers(1, 10))) % 10)


def digit_by(
    card: Filled, text: str, at: tuple[float, float], tall: float, *, sheet: Sheet | None = None,
    ink: Color | None = None,
) -> None:  # fmt: skip
    """One digit by the writer of the card, its middle and its foot at a place."""
    sheet, who = sheet or card.sheet, card.person
    color = ink or card.pen
    if who is None:
        hand = replace(card.hand, ink=color)
        write(sheet, text, hand, (at[0] - 0.5 * tall, at[1], 8.0, tall), card.rng)
        return
    found = write_number(text, who, height_mm=tall, width_mm=9.0, rng=card.rng)
    columns = np.flatnonzero(found.max(axis=0) > 0.3) / PX_PER_MM
    middle = (columns[0] + columns[-1]) / 2
    sheet.stain(at[0] - middle, at[1] - found.shape[0] * 2 / 3 / PX_PER_MM, found, color)


def made_another(card: Filled) -> None:
    """Strokes made another digit of one, by the same pen."""
    make_another(card, None)


def make_another(card: Filled, color: Color | None) -> None:
    """Strokes in that ink, or in the number's own, make another digit of one."""
    ink = line_of(card)
    place = place_of(card, "".join(_MADE))
    assert place is not None  # a number of 20 digits begins with 7
    ways = _MADE[card.article[place]]
    strokes = ways[int(card.rng.integers(len(ways)))]
    x, tall = digit_at(card, ink, place), min(ink[3], 1.25 * pitch_of(card, ink) / 0.7)
    off = card.rng.normal(0, 0.03, 2)
    points = [(x + tall * (u + off[0]), ink[1] + ink[3] - tall * (1 - v + off[1]))
              for u, v in strokes]  # fmt: skip
    card.stroke(*_bent(points), ink=color or card.pen, pen=0.35)


def _bent(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """A smooth path through the points (Catmull and Rom 1974)."""
    if len(points) < 3:
        return points
    path = np.array([points[0], *points, points[-1]])
    found = []
    for a, b, c, d in zip(path, path[1:], path[2:], path[3:], strict=False):
        for t in np.linspace(0, 1, 8):
            at = 0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2
                        + (3 * b - a - 3 * c + d) * t**3)  # fmt: skip
            found.append((float(at[0]), float(at[1])))
    return found


def one_in_zero(card: Filled) -> None:
    """A 1 within a 0, or within a 6, 8 or 9."""
    ink = line_of(card)
    place = place_of(card, "0") if "0" in card.article else place_of(card, "689")
    at = digit_at(card, ink, 0 if place is None else place)
    digit_by(card, "1", (at, ink[1] + 0.97 * ink[3]), card.rng.uniform(0.75, 1.0) * ink[3])


def rewritten_over(card: Filled) -> None:
    """The writer wrote another digit right over one, at the same size."""
    ink = line_of(card)
    place = place_of(card) or 0
    at = (digit_at(card, ink, place), ink[1] + card.rng.uniform(0.92, 1.02) * ink[3])
    digit_by(card, other_than(card, place), at, card.rng.uniform(0.8, 1.0) * ink[3])


def corrected_over(card: Filled) -> None:
    """One digit was wrong at first, and the right one was written over it."""
    right, place = card.article, place_of(card) or 0
    other = other_than(card, place)
    card.article = right[:place] + other + right[place + 1 :]
    ink = line_of(card)
    card.article = right
    at = (digit_at(card, ink, place), ink[1] + card.rng.uniform(0.92, 1.02) * ink[3])
    digit_by(card, right[place], at, card.rng.uniform(0.8, 1.0) * ink[3])


def joined(card: Filled) -> None:
    """A stroke from within one digit through the next one."""
    ink = line_of(card)
    place = int(card.rng.integers(0, len(card.article) - 1))
    left, right = (digit_at(card, ink, at) for at in (place, place + 1))
    y = ink[1] + card.rng.uniform(0.3, 0.7) * ink[3]
    through(card, left, right + 0.4 * pitch_of(card, ink), y, ink=card.pen)


def box_struck_low(card: Filled) -> None:
    """A stroke from side to side of the box that lies low in the number."""
    ink = line_of(card)
    left, _, wide, _ = card.design.box
    y = ink[1] + card.rng.uniform(0.8, 0.95) * ink[3]
    through(card, left + 0.4, left + wide - 0.4, y, ink=card.pen)


def whole_struck_low(card: Filled) -> None:
    """A stroke through the number that lies low in it."""
    ink = line_of(card)
    y = ink[1] + card.rng.uniform(0.7, 0.85) * ink[3]
    through(card, ink[0] - 0.6, ink[0] + ink[2] + 0.6, y, ink=card.pen)


def struck_dashed(card: Filled) -> None:
    """Short strokes in a row through the number."""
    ink = line_of(card)
    y, pitch = ink[1] + 0.5 * ink[3], pitch_of(card, ink)
    for at in range(len(card.article) - 1):
        x = digit_at(card, ink, at) + 0.5 * pitch
        through(card, x - 0.35 * pitch, x + 0.35 * pitch, y)


def under_fluid(card: Filled) -> None:
    """Correction fluid over a digit, and another one on it."""
    ink = line_of(card)
    place = place_of(card) or 0
    x, wide = digit_at(card, ink, place), 1.15 * pitch_of(card, ink)
    for _ in range(5):
        y = ink[1] + card.rng.uniform(0.2, 0.8) * ink[3]
        card.stroke((x - 0.15 * wide, y), (x + 0.15 * wide, y + 0.3), pen=0.75 * wide,
                    ink=_FLUID, strength=0.93)  # fmt: skip
    digit_by(card, other_than(card, place), (x, ink[1] + ink[3]), 0.92 * ink[3])


def under_tape(card: Filled) -> None:
    """Correction tape over a digit, or over several, with another one or others on it."""
    ink = line_of(card)
    many = int(card.rng.integers(1, 4))
    place = int(card.rng.integers(0, len(card.article) - many + 1))
    pitch, digits = pitch_of(card, ink), range(place, place + many)
    middle = (digit_at(card, ink, place) + digit_at(card, ink, digits[-1])) / 2
    tape = Sheet(width_mm=pitch * (many + 0.1), height_mm=max(4.2, ink[3] + 0.4), stock=_TAPE)
    card.sheet.paste(tape, x_mm=middle, y_mm=ink[1] + 0.5 * ink[3],
                     angle_deg=float(card.rng.uniform(-3, 3)))  # fmt: skip
    changed = int(card.rng.choice(list(digits)))
    for at in digits:
        text = other_than(card, at) if at == changed else card.article[at]
        digit_by(card, text, (digit_at(card, ink, at), ink[1] + ink[3]), 0.92 * ink[3])


def erased(card: Filled) -> None:
    """A digit was rubbed out, so that a trace of it stays, and another one written there."""
    ink = line_of(card)
    place = place_of(card) or 0
    x, wide = digit_at(card, ink, place), 0.95 * pitch_of(card, ink)
    y = ink[1] + 0.5 * ink[3]
    card.stroke((x, y - 0.2 * ink[3]), (x, y + 0.2 * ink[3]), pen=max(wide, 0.8 * ink[3]),
                ink=card.design.stock, strength=float(card.rng.uniform(0.7, 0.92)))  # fmt: skip
    digit_by(card, other_than(card, place), (x, ink[1] + ink[3]), 0.92 * ink[3])


def squeezed_in(card: Filled) -> None:
    """A digit was squeezed in between two, on the line."""
    ink = line_of(card)
    place = int(card.rng.integers(1, len(card.article)))
    x = (digit_at(card, ink, place) + digit_at(card, ink, place - 1)) / 2
    text = "1" if card.rng.random() < 0.4 else str(card.rng.integers(10))
    digit_by(card, text, (x, ink[1] + ink[3]), card.rng.uniform(0.5, 0.85) * ink[3])


def digit_crossed(card: Filled) -> None:
    """A small X over one digit."""
    ink = line_of(card)
    x, half = digit_at(card, ink, place_of(card) or 0), 0.42 * pitch_of(card, ink)
    for side in (-1, 1):
        card.stroke((x - half, ink[1] + (0.5 - 0.45 * side) * ink[3]),
                    (x + half, ink[1] + (0.5 + 0.45 * side) * ink[3]))  # fmt: skip


def digit_circled(card: Filled) -> None:
    """A ring around one digit."""
    ink = line_of(card)
    x, wide = digit_at(card, ink, place_of(card) or 0), 0.62 * pitch_of(card, ink)
    turns = np.linspace(0.3, 0.3 + 2.1 * math.pi, 40)
    y, high = ink[1] + 0.5 * ink[3], 0.68 * ink[3]
    card.stroke(*[(x + wide * math.cos(t), y + high * math.sin(t)) for t in turns.tolist()])


def swapped(card: Filled) -> None:
    """A bent line around two digits: they are to change places."""
    ink = line_of(card)
    place = int(card.rng.integers(0, len(card.article) - 1))
    x, pitch = (
        (digit_at(card, ink, place) + digit_at(card, ink, place + 1)) / 2,
        pitch_of(card, ink),
    )
    top, foot = ink[1] - 0.4, ink[1] + ink[3] + 0.4
    card.stroke(*_bent([(x - pitch, foot - 0.5), (x - pitch, top), (x - 0.1, top), (x, foot - 1),
                        (x + 0.1, foot), (x + pitch, foot), (x + pitch, top + 0.5)]))  # fmt: skip


def blotted(card: Filled) -> None:
    """A digit made unreadable by a broad pen."""
    ink = line_of(card)
    x = digit_at(card, ink, place_of(card) or 0)
    card.stroke((x, ink[1] + 0.2 * ink[3]), (x + 0.2, ink[1] + 0.8 * ink[3]),
                pen=0.8 * pitch_of(card, ink))  # fmt: skip


def print_slip(card: Filled) -> None:
    """A strip without bars on which a slip with another printed digit was stuck."""
    left, top, wide, high = card.strip(grouped(card.article), bars=None)
    place = place_of(card) or 0
    groups = place // 4
    x = left + wide / 2 + (place + groups - 13) * 0.56 * min(4.0, 0.7 * high)
    slip = Sheet(width_mm=2.3, height_mm=min(high, 4.6), stock=WHITE)
    face = SANS if card.rng.random() < 0.5 else BOLD
    kind = Type(size_mm=3.8, color=INK_BLACK, face=face)
    slip.text(1.15, slip.height_mm / 2 + 1.4, other_than(card, place), kind, is_centered=True)
    card.sheet.paste(slip, x_mm=float(np.clip(x, left + 2, left + wide - 2)), y_mm=top + high / 2,
                     angle_deg=float(card.rng.uniform(-2, 2)))  # fmt: skip


def print_written_over(card: Filled) -> None:
    """A digit of a strip without bars, made another by hand."""
    left, top, wide, high = card.strip(grouped(card.article), bars=None)
    x = left + wide * float(card.rng.uniform(0.15, 0.85))
    digit_by(card, str(card.rng.integers(10)), (x, top + 0.5 * high + 1.6), 3.2)


KINDS = (
    made_another, one_in_zero, rewritten_over, corrected_over, joined, box_struck_low,
    whole_struck_low, struck_dashed, under_fluid, under_tape, erased, squeezed_in, digit_crossed,
    digit_circled, swapped, blotted, print_slip, print_written_over,
)  # fmt: skip

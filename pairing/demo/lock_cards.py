"""The card of a lock and weir office, drawn flat: boxes for services on its front, the sender's
address on its other side. Sizes in mm.
"""

from __future__ import annotations

import numpy as np

from pairing.demo.cards import fill_box, print_card_number
from pairing.demo.hand import HANDS, stroke
from pairing.demo.paper import write
from pairing.demo.scenario import SENDERS, STREETS, ZIP, CardDesign, Layout, Piece
from pairing.demo.sheet import BOLD, PX_PER_MM, Color, Pixels, Sheet, Type

Rect = tuple[float, float, float, float]
"""left, top, width, height, mm."""
Point = tuple[float, float]

LOCK_MM: Point = (150.0, 96.0)
BLANK = "blank-card"
LOCK_PLACES: dict[str, Rect] = {
    "addressee": (6.0, 20.0, 68.0, 22.0),
    "box": (6.0, 76.0, 72.0, 13.0),
    "signature": (86.0, 29.0, 58.0, 15.0),
    "printed-name": (86.0, 48.5, 58.0, 8.0),
    "date": (86.0, 61.0, 32.0, 8.0),
}
LOCK_SERVICES: dict[str, Rect] = {
    "Certified": (88.0, 73.0, 2.8, 2.8),
    "Registered": (88.0, 79.5, 2.8, 2.8),
    "Insured": (88.0, 86.0, 2.8, 2.8),
    "By hand only": (116.0, 73.0, 2.8, 2.8),
}
LOCK_SENDER: Rect = (12.0, 44.0, 76.0, 27.0)
"""On the other side."""
_CAPTIONS = {
    "addressee": "Addressee",
    "box": "Number on the letter's label",
    "signature": "Signature",
    "printed-name": "Name in capitals",
    "date": "Date",
}
_ICE: Color = (214, 226, 238)
_INK: Color = (34, 50, 92)


def lock_card_sheet(piece: Piece, rng: np.random.Generator) -> Sheet:
    """The card's front, filled in; of a blank card as it comes from the printer."""
    card = _printed_front(piece)
    fill_box(card, piece, LOCK_PLACES["box"], rng)
    if piece.error == BLANK:
        return card
    hand = HANDS[piece.hand]
    for at, text in enumerate((piece.addressee, STREETS[piece.addressee], f"Quillhaven {ZIP}")):
        write(card, text, hand, (9.0, 26.6 + 6.2 * at, 56.0, 2.9), rng)
    _mark_services(card, piece, rng)
    if piece.layout is Layout.CARD_ALONE:
        _sign(card, piece, rng)
    return card


def lock_back_sheet(piece: Piece, rng: np.random.Generator) -> Sheet:
    """The card's other side, with the sender's address unless it was forgotten."""
    wide, high = LOCK_MM
    card = Sheet(width_mm=wide, height_mm=high, stock=_ICE)
    small = Type(size_mm=2.7, color=_INK)
    card.text(8, 12, "Lock and Weir Office", Type(size_mm=5.4, color=_INK, face=BOLD))
    card.text(8, 17, "This card is sent back to", small)
    card.frame((wide - 50, 6, 42, 20), _INK, line_mm=0.3)
    for at, text in enumerate(("Carried free", "between offices", "of Quillhaven")):
        card.text(wide - 46, 12 + 4.4 * at, text, small)
    left, top, long, tall = LOCK_SENDER
    card.text(left, top - 3.0, "Sender: name, street, town", small)
    for at in (1, 2, 3):
        card.fill(left, top + at * tall / 3, long, 0.2, _INK)
    card.text(8, high - 6, "Fill in both sides before the letter is handed over.", small)
    if piece.error not in (BLANK, "sender-empty"):
        for at, text in enumerate(SENDERS[CardDesign.LOCK]):
            foot = top + (at + 0.82) * tall / 3
            write(card, text, HANDS[piece.hand], (left + 3.0, foot, long - 8, 3.2), rng)
    return card


def _printed_front(piece: Piece) -> Sheet:
    card = Sheet(width_mm=LOCK_MM[0], height_mm=LOCK_MM[1], stock=_ICE)
    small = Type(size_mm=2.6, color=_INK)
    card.fill(6, 5, 138, 0.8, _INK)
    card.text(6, 12, "Lock and Weir Office of Quillhaven", Type(size_mm=4.8, color=_INK, face=BOLD))
    card.text(101, 12, "Card to come back", Type(size_mm=3.4, color=_INK))
    for name, place in LOCK_PLACES.items():
        card.text(place[0], place[1] - 1.1, _CAPTIONS[name], small)
        card.frame(place, _INK, line_mm=0.3)
    for service, place in LOCK_SERVICES.items():
        card.frame(place, _INK, line_mm=0.2)
        card.text(place[0] + 4.6, place[1] + 2.4, service, small)
    card.text(118, 88.4, "Mark one service.", small)
    print_card_number(card, piece, (10.0, 52.0))
    return card


def _mark_services(card: Sheet, piece: Piece, rng: np.random.Generator) -> None:
    """A cross in one box, or what the piece's error says."""
    if piece.error == "service-unmarked":
        return
    names = list(LOCK_SERVICES)
    first = int(piece.name) % 2
    box, below = LOCK_SERVICES[names[first]], LOCK_SERVICES[names[first + 1]]
    if piece.error == "service-between":
        (x, y, wide, high), foot = box, below[1]
        _draw(card, piece, ((x + 0.8 * wide, y + 0.3 * high), (x + 0.4 * wide, (y + foot) / 2),
                            (x + 0.3 * wide, foot + 0.8 * high)))  # fmt: skip
        return
    _cross(card, piece, box, rng)
    if piece.error == "service-two":
        _cross(card, piece, below, rng)
    if piece.error == "service-corrected":
        x, y, wide, high = below
        rows = np.linspace(y - 0.2, y + high + 0.2, 13)
        _draw(card, piece, tuple(
            (x + (-0.3 if at % 2 else wide + 0.3), float(row)) for at, row in enumerate(rows)
        ), pen_mm=0.6)  # fmt: skip


def _cross(card: Sheet, piece: Piece, box: Rect, rng: np.random.Generator) -> None:
    x, y, wide, high = box
    (a, b), (c, d) = rng.uniform(-0.3, 0.3, (2, 2))
    _draw(card, piece, ((x + 0.3 + a, y + 0.3 + b), (x + wide - 0.1, y + high - 0.1)))
    _draw(card, piece, ((x + wide - 0.2 + c, y + 0.2 + d), (x + 0.1, y + high - 0.2)))


def _sign(card: Sheet, piece: Piece, rng: np.random.Generator) -> None:
    """What the recipient wrote: a date, and a signature where there is one."""
    hand = HANDS["reenie"]
    left, top, _, high = LOCK_PLACES["date"]
    write(card, "14 7 26", hand, (left + 4, top + high - 2.6, 22, 3.6), rng)
    left, top, wide, high = LOCK_PLACES["signature"]
    if piece.error == "signature-outside":
        write(card, piece.addressee, hand, (left + 6, top - 5, wide - 12, 5.0), rng)
    elif piece.error != "unsigned":
        write(card, piece.addressee, hand, (left + 6, top + high - 5, wide - 12, 5.0), rng)


def _draw(card: Sheet, piece: Piece, points: tuple[Point, ...], *, pen_mm: float = 0.45) -> None:
    """One stroke of the piece's pen through points of the card."""
    ink: Pixels = np.zeros(card.alpha.shape, np.float32)
    stroke(ink, np.asarray(points) * PX_PER_MM, pen_mm)
    card.stain(0.0, 0.0, ink * np.float32(0.9), HANDS[piece.hand].ink)

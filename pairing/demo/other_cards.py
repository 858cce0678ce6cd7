"""Cards of two other offices, drawn flat: a ferry company's, with cells wall to wall, and a harbor
office's, whose number is written into a comb. Sizes in mm.
"""

from __future__ import annotations

import numpy as np

from pairing.demo.cards import fill_box, print_card_number
from pairing.demo.hand import HANDS, write_line
from pairing.demo.paper import write
from pairing.demo.scenario import STREETS, ZIP, BoxBy, CardDesign, Piece
from pairing.demo.sheet import BOLD, PX_PER_MM, Color, Sheet, Type

Rect = tuple[float, float, float, float]
"""left, top, width, height, mm."""

FERRY_MM, FERRY_BOX_MM = (152.0, 98.0), (4.0, 77.0, 72.0, 17.0)
_FERRY_WRITING_MM: Rect = (4.0, 81.2, 72.0, 12.0)
"""The part of its box under the caption."""
_FERRY_CELLS: tuple[tuple[Rect, str], ...] = (
    ((4.0, 20.0, 72.0, 30.0), "1. To whom it goes"),
    ((4.0, 50.0, 72.0, 27.0), ""),
    (FERRY_BOX_MM, "2. Number on the label"),
    ((76.0, 20.0, 72.0, 26.0), "3. Signature"),
    ((76.0, 46.0, 72.0, 14.0), "4. Name in capitals"),
    ((76.0, 60.0, 72.0, 14.0), "5. Day and hour"),
    ((76.0, 74.0, 72.0, 20.0), ""),
)
HARBOR_MM, HARBOR_BOX_MM, HARBOR_CELLS = (160.0, 92.0), (8.0, 72.0, 99.0, 8.0), 22
_MINT: Color = (220, 237, 222)
_ROSE: Color = (244, 212, 212)
_PINE: Color = (24, 74, 46)
_BRICK: Color = (150, 46, 44)


def other_card_sheet(piece: Piece, rng: np.random.Generator) -> Sheet:
    """The card of another office with its box filled in; of a piece without a box's content and
    without an addressee's line the card as it comes from the printer."""
    if piece.design is CardDesign.FERRY:
        card = _ferry_card(piece)
        write(card, piece.addressee, HANDS[piece.hand], (12.0, 31.0, 58.0, 3.4), rng)
        fill_box(card, piece, _FERRY_WRITING_MM, rng)
        return card
    card = _harbor_card(piece)
    if piece.error == "undated":
        write(card, piece.addressee, HANDS["reenie"], (96.0, 24.0, 50.0, 5.0), rng)
    if piece.error not in ("blank-card", "addressee-empty"):
        lines = (piece.addressee, STREETS[piece.addressee], f"Quillhaven {ZIP}")
        for at, text in enumerate(lines):
            write(card, text, HANDS[piece.hand], (12.0, 27.0 + 5.6 * at, 62.0, 2.9), rng)
    _fill_comb(card, piece, rng)
    return card


def _ferry_card(piece: Piece) -> Sheet:
    card = Sheet(width_mm=FERRY_MM[0], height_mm=FERRY_MM[1], stock=_MINT)
    card.fill(4, 6, 144, 7, _PINE)
    card.text(7, 11.2, "QUILL FERRY COMPANY", Type(size_mm=4.4, color=_MINT, face=BOLD))
    card.text(96, 11.1, "Card to be sent back", Type(size_mm=3.6, color=_MINT))
    card.text(4, 18.2, "Please write plainly, and hand it in with the piece.",
              Type(size_mm=2.6, color=_PINE))  # fmt: skip
    for place, caption in _FERRY_CELLS:
        card.frame(place, _PINE, line_mm=0.3)
        card.text(place[0] + 1.3, place[1] + 3.2, caption, Type(size_mm=2.5, color=_PINE))
    for at, service in enumerate(("Letter", "Parcel", "Insured", "By hand only")):
        x, y = 80 + at % 2 * 34, 79.5 + at // 2 * 7
        card.frame((x, y, 2.8, 2.8), _PINE, line_mm=0.2)
        card.text(x + 4.4, y + 2.5, service, Type(size_mm=2.7, color=_PINE))
    print_card_number(card, piece, (12.0, 57.0))
    return card


def _harbor_card(piece: Piece) -> Sheet:
    card = Sheet(width_mm=HARBOR_MM[0], height_mm=HARBOR_MM[1], stock=_ROSE)
    small = Type(size_mm=2.6, color=_BRICK)
    card.text(8, 10, "Harbor Office of Quillhaven", Type(size_mm=5.0, color=_BRICK, face=BOLD))
    card.text(8, 14.6, "Receipt for a signed-for letter", Type(size_mm=3.2, color=_BRICK))
    card.text(8, 21, "For", small)
    for at in range(3):
        card.fill(8, 28.2 + 5.6 * at, 70, 0.2, _BRICK)
    for place, caption in (
        ((88.0, 8.0, 64.0, 22.0), "Signature"),
        ((88.0, 36.0, 64.0, 12.0), "Name"),
        ((88.0, 54.0, 64.0, 10.0), "Date"),
    ):
        card.text(place[0], place[1] - 0.9, caption, small)
        card.frame(place, _BRICK, line_mm=0.2)
    left, top, wide, high = HARBOR_BOX_MM
    card.text(left, top - 1.2, "Number of the letter, a digit in each cell", small)
    card.frame(HARBOR_BOX_MM, _BRICK, line_mm=0.25)
    for at in range(1, HARBOR_CELLS):
        card.fill(left + at * wide / HARBOR_CELLS, top, 0.2, high, _BRICK)
    card.text(8, 87, "Keep nothing in this card. The harbor office keeps it for six years.", small)
    print_card_number(card, piece, (10.0, 48.0))
    return card


def _fill_comb(card: Sheet, piece: Piece, rng: np.random.Generator) -> None:
    """A digit into each cell, by hand; or a strip over all of them."""
    if piece.box_by is not BoxBy.HAND:
        fill_box(card, piece, HARBOR_BOX_MM, rng)
        return
    hand = HANDS[piece.hand]
    left, top, wide, high = HARBOR_BOX_MM
    pitch = wide / HARBOR_CELLS
    for at, digit in enumerate(piece.box):
        ink = write_line(digit, hand=hand, height_mm=4.8, width_mm=9.0, rng=rng)
        columns = np.flatnonzero(ink.max(axis=0) > 0.3) / PX_PER_MM
        x = left + (at + 0.5) * pitch - (columns[0] + columns[-1]) / 2 + rng.normal(0, 0.25)
        y = top + high - 1.7 - ink.shape[0] / PX_PER_MM * 2 / 3
        card.stain(x, y, ink, hand.ink)

"""The card and the strip in its box, drawn flat. Sizes in mm."""

from __future__ import annotations

import cv2
import numpy as np

from pairing.demo.hand import HANDS, strike_out, write_line
from pairing.demo.paper import BLACK, MIST, PLUM, SLATE, STRAW, WHITE, as_gs1, grouped, write
from pairing.demo.scenario import SENDER, BoxBy, Piece
from pairing.demo.sheet import BOLD, MONO, PX_PER_MM, Sheet, Type, bar_modules

CARD_MM = (178.0, 83.0)
BOX_MM = (8.0, 44.5, 72.0, 10.5)
"""The box on the card: left, top, width, height."""

_CARD_BARS_TOP_MM = 28.0
_CARD_BARS_MM = 9.0
_CARD_BARS_LEFT_MM = 10.0
_CARD_X_MM = 0.345
_STRIP_X_MM = 0.32


def card_sheet(piece: Piece, rng: np.random.Generator) -> Sheet:
    """The card with its box filled in."""
    card = Sheet(width_mm=CARD_MM[0], height_mm=CARD_MM[1], stock=STRAW if piece.card else MIST)
    _print_card(card, piece)
    hand = HANDS[piece.hand]
    write(card, piece.addressee, hand, (27.0, 69.4, 58.0, 3.4), rng)
    fill_box(card, piece, BOX_MM, rng)
    if piece.is_card_glared:
        _glare(card)
    return card


def _print_card(card: Sheet, piece: Piece) -> None:
    ink = PLUM if piece.card else SLATE
    middle = CARD_MM[0] / 2 + 1
    title = "Proof-of-delivery card" if piece.card else "Proof-of-delivery card, abroad"
    card.text(8, 9, title, Type(size_mm=5.2, color=ink, face=BOLD))
    card.text(8, 14, "Send this card back to", Type(size_mm=2.9, color=ink))
    for line, text in enumerate(SENDER):
        card.text(40, 14 + 4 * line, text, Type(size_mm=3.4, color=BLACK))
    if piece.card:
        print_card_number(card, piece, (_CARD_BARS_LEFT_MM, _CARD_BARS_TOP_MM))
    left, top, wide, high = BOX_MM
    card.text(left, top - 0.9, "Number on the mailing's label", Type(size_mm=2.4, color=ink))
    card.frame((left, top, wide, high), ink, line_mm=0.3)
    card.text(8, 66.6, "Addressed to", Type(size_mm=2.7, color=ink))
    card.dashes(26, 70.5, 56, ink, upright=False)
    card.dashes(middle, 5, CARD_MM[1] - 10, ink, upright=True)
    for text, top_mm, high_mm in (
        ("Received by (signature)", 12.0, 20.0),
        ("Name in capitals", 38.0, 12.0),
        ("Day, month, year", 56.0, 11.0),
    ):
        card.text(middle + 6, top_mm - 1.2, text, Type(size_mm=2.8, color=ink))
        card.frame((middle + 6, top_mm, 76, high_mm), ink, line_mm=0.2)
    card.text(middle + 6, 75, "To be completed at the door", Type(size_mm=2.6, color=ink))


def print_card_number(card: Sheet, piece: Piece, place_mm: tuple[float, float]) -> None:
    """The card's own bars, their top left corner at place_mm, and the number under them."""
    left, top = place_mm
    is_gs1 = int(piece.name) % 2 == 1
    modules = bar_modules(as_gs1(piece.card) if is_gs1 else piece.card, gs1=is_gs1)
    wide = card.bars(
        left,
        top,
        modules,
        module_mm=_CARD_X_MM,
        height_mm=_CARD_BARS_MM,
    )
    card.text(
        left + wide / 2,
        top + _CARD_BARS_MM + 3.1,
        grouped(piece.card),
        Type(size_mm=3.2, color=BLACK),
        is_centered=True,
    )


def fill_box(
    card: Sheet, piece: Piece, box_mm: tuple[float, float, float, float], rng: np.random.Generator
) -> None:
    """What was written or stuck into the box, which is left, top, width, height."""
    left, top, wide, high = box_mm
    hand = HANDS[piece.hand]
    if piece.box_by in (BoxBy.STRIP_BARCODE, BoxBy.STRIP_PRINT):
        strip = _strip(piece, rng)
        angle = float(rng.choice((-1.0, 1.0)) * rng.uniform(1.0, 1.9))
        card.paste(
            strip,
            x_mm=left + wide / 2 + rng.uniform(-4, 2),
            y_mm=top + high / 2 + rng.uniform(-0.3, 0.3),
            angle_deg=angle,
        )
    elif piece.struck:
        spoiled = write_line(
            grouped(piece.struck), hand=hand, height_mm=3.3, width_mm=wide - 4, rng=rng
        )
        columns = np.flatnonzero(spoiled.max(axis=0) > 0.3) / PX_PER_MM
        strike_out(spoiled, from_mm=columns[0] - 0.4, to_mm=columns[-1] + 0.8, rng=rng)
        card.stain(left + 1, top + 4.6 - spoiled.shape[0] / PX_PER_MM * 2 / 3, spoiled, hand.ink)
        write(card, grouped(piece.box), hand, (left + 1, top + high - 0.9, wide - 2, 3.7), rng)
    elif piece.box_by is BoxBy.HAND:
        text = piece.box if piece.error == "name" else grouped(piece.box)
        foot = top + high - 2.9 + float(rng.uniform(-0.4, 0.4))
        write(card, text, hand, (left + 1.2, foot, wide - 2.5, 5.0), rng)


def _strip(piece: Piece, rng: np.random.Generator) -> Sheet:
    """A strip cut by hand from a second label: bars, print or both."""
    if piece.box_by is BoxBy.STRIP_PRINT:
        strip = Sheet(width_mm=62, height_mm=7, stock=WHITE)
        strip.text(
            31,
            5.0,
            grouped(piece.box),
            Type(size_mm=4.3, color=BLACK, face=BOLD),
            is_centered=True,
        )
        return strip
    is_gs1 = len(piece.box_bars) == 22 and int(piece.name) % 3 > 0
    content = as_gs1(piece.box_bars) if is_gs1 else piece.box_bars
    modules = bar_modules(content, gs1=is_gs1)
    bars_mm = len(modules) * _STRIP_X_MM
    quiet = 11 * _STRIP_X_MM
    strip = Sheet(width_mm=bars_mm + 2 * quiet + rng.uniform(0, 2), height_mm=9.0, stock=WHITE)
    strip.bars(quiet, 0.7, modules, module_mm=_STRIP_X_MM, height_mm=5.4)
    strip.text(
        quiet + bars_mm / 2,
        8.4,
        grouped(piece.box),
        Type(size_mm=2.5, color=BLACK, face=MONO),
        is_centered=True,
    )
    return strip


def _glare(card: Sheet) -> None:
    """A lamp's reflection over the card's own bars."""
    shine = np.zeros(card.alpha.shape, np.float32)
    center = (round(34 * PX_PER_MM), round((_CARD_BARS_TOP_MM + 3.2) * PX_PER_MM))
    axes = (round(11 * PX_PER_MM), round(7.5 * PX_PER_MM))
    cv2.ellipse(shine, center, axes, -12, 0, 360, (1.1,), -1)
    halo = np.asarray(cv2.GaussianBlur(shine, (0, 0), 9 * PX_PER_MM))
    core = np.asarray(cv2.GaussianBlur(shine, (0, 0), 1.8 * PX_PER_MM))
    card.shine = np.clip(core + 0.35 * halo, 0, 1).astype(np.float32)

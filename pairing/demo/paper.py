"""Label, card and strip, drawn flat. Layout and wording are this scenario's own.

Sizes in mm. Bars: X 0.34 to 0.38 mm and 19 to 20 mm high on labels (the field's
guides ask for 0.33 to 0.53 mm and 19 mm; S10: 0.33 to 0.51 mm), quiet zones of 10 X
or more, numbers in groups of four, S10 in 2-3-3-3-2, routing never in the text.
"""

from __future__ import annotations

import cv2
import numpy as np

from pairing.demo.hand import HANDS, Hand, strike_out, write_line
from pairing.demo.scenario import SENDER, STREETS, ZIP, BoxBy, Piece
from pairing.demo.sheet import BOLD, MONO, PX_PER_MM, Colour, Sheet, Type, bar_modules

CARD_MM = (178.0, 83.0)
BOX_MM = (8.0, 44.5, 72.0, 10.5)
"""The box on the card: left, top, width, height."""

_CARD_BARS_TOP_MM = 28.0
_CARD_BARS_MM = 9.0
_CARD_BARS_LEFT_MM = 10.0
_CARD_X_MM = 0.345
_STRIP_X_MM = 0.32

_PLUM: Colour = (92, 52, 88)
_SLATE: Colour = (58, 76, 102)
_BLACK: Colour = (24, 24, 26)
_STRAW: Colour = (246, 236, 212)
_MIST: Colour = (222, 230, 238)
_WHITE: Colour = (250, 250, 248)


def grouped(number: str) -> str:
    """The printed form: 2-3-3-3-2 for an S10 number, else groups of four."""
    if number[:1].isalpha():
        return " ".join((number[:2], number[2:5], number[5:8], number[8:11], number[11:]))
    return " ".join(number[k : k + 4] for k in range(0, len(number), 4))


def label_sheet(piece: Piece) -> Sheet:
    """The label that goes on the mailing's front."""
    if piece.routing:
        return _package_label(piece)
    if piece.article[0] == "R":
        return _number_label(piece.article, title="REGISTERED, ABROAD", ink=_PLUM, x_mm=0.36)
    if len(piece.article) == 20:
        return _number_label(piece.article, title="SIGNED-FOR LETTER", ink=_SLATE, x_mm=0.38)
    return _number_label(piece.article, title="ACCOUNTABLE LETTER", ink=_SLATE, x_mm=0.36)


def envelope_sheet(
    piece: Piece, *, size_mm: tuple[float, float], stock: Colour,
    label_mm: tuple[float, float], rng: np.random.Generator,
) -> Sheet:
    """An envelope's front, size_mm (width, height), with the label on it, its top
    left corner at label_mm."""
    envelope = Sheet(width_mm=size_mm[0], height_mm=size_mm[1], stock=stock)
    label = label_sheet(piece)
    left, top = label_mm
    for line, text in enumerate(SENDER):
        envelope.text(6, 8 + 4.2 * line, text, Type(size_mm=3.4, colour=_SLATE))
    envelope.paste(
        label, x_mm=left + label.width_mm / 2, y_mm=top + label.height_mm / 2,
        angle_deg=float(rng.uniform(-1.0, 1.0)),
    )
    if not piece.routing:
        place = f"Quillhaven {ZIP}" if piece.card else "Abroad"
        for line, text in enumerate((piece.addressee, STREETS[piece.addressee], place)):
            _write(envelope, text, HANDS[piece.hand],
                   (left + 16 + line, size_mm[1] - 18.5 + 6.4 * line, 70, 2.9), rng)
    if piece.second_article:
        extra = _sticker(piece.second_article)
        envelope.paste(
            extra, x_mm=left + 2 + extra.width_mm / 2,
            y_mm=top + label.height_mm + 5 + extra.height_mm / 2, angle_deg=2.2,
        )
    return envelope


def card_sheet(piece: Piece, rng: np.random.Generator) -> Sheet:
    """The card with its box filled in."""
    card = Sheet(
        width_mm=CARD_MM[0], height_mm=CARD_MM[1], stock=_STRAW if piece.card else _MIST
    )
    _print_card(card, piece)
    hand = HANDS[piece.hand]
    _write(card, piece.addressee, hand, (27.0, 69.4, 58.0, 3.4), rng)
    _fill_box(card, piece, hand, rng)
    if piece.is_card_glared:
        _glare(card)
    return card


def _number_label(number: str, *, title: str, ink: Colour, x_mm: float) -> Sheet:
    modules = bar_modules(_as_gs1(number) or number, gs1=bool(_as_gs1(number)))
    bars_mm = len(modules) * x_mm
    label = Sheet(width_mm=bars_mm + 34, height_mm=43, stock=_WHITE)
    label.fill(2.2, 2.2, 5, 38.4, ink)
    label.text(15, 7.2, title, Type(size_mm=4.6, colour=ink, face=BOLD))
    label.text(15, 11.2, "Deliver against signature only", Type(size_mm=2.9, colour=ink))
    left = 15 + 12 * x_mm
    label.bars(left, 14.5, modules, module_mm=x_mm, height_mm=20)
    label.text(
        left + bars_mm / 2, 39.6, grouped(number),
        Type(size_mm=4.1, colour=_BLACK, face=BOLD), is_centred=True,
    )
    label.frame((0.4, 0.4, label.width_mm - 1, 42), ink, line_mm=0.3)
    return label


def _package_label(piece: Piece) -> Sheet:
    x_mm = 0.35
    content = f"[420]{piece.routing}{_as_gs1(piece.article)}"
    modules = bar_modules(content, gs1=True)
    bars_mm = len(modules) * x_mm
    label = Sheet(width_mm=bars_mm + 18, height_mm=66, stock=_WHITE)
    wide = label.width_mm
    label.text(5, 9, "To", Type(size_mm=3.2, colour=_SLATE))
    label.text(13, 9.4, piece.addressee, Type(size_mm=4.4, colour=_BLACK, face=BOLD))
    label.text(13, 14.6, STREETS[piece.addressee], Type(size_mm=4.0, colour=_BLACK))
    label.text(13, 19.6, f"Quillhaven {_zip(piece.routing)}", Type(size_mm=4.0, colour=_BLACK))
    label.fill(0.4, 23.5, wide - 0.8, 0.5, _SLATE)
    label.text(
        wide / 2, 28.6, "Accountable parcel letter - signature needed",
        Type(size_mm=3.5, colour=_SLATE, face=BOLD), is_centred=True,
    )
    label.bars((wide - bars_mm) / 2, 32.5, modules, module_mm=x_mm, height_mm=20)
    label.text(
        wide / 2, 58.6, grouped(piece.article),
        Type(size_mm=4.6, colour=_BLACK, face=BOLD), is_centred=True,
    )
    label.frame((0.4, 0.4, wide - 1, 65), _SLATE, line_mm=0.3)
    return label


def _sticker(number: str) -> Sheet:
    modules = bar_modules(number, gs1=False)
    bars_mm = len(modules) * 0.34
    sticker = Sheet(width_mm=bars_mm + 9, height_mm=22, stock=_WHITE)
    sticker.bars(4.5, 3, modules, module_mm=0.34, height_mm=12.5)
    sticker.text(
        4.5 + bars_mm / 2, 19.6, grouped(number),
        Type(size_mm=3.0, colour=_BLACK, face=MONO), is_centred=True,
    )
    return sticker


def _as_gs1(number: str) -> str:
    """A 22-digit number as an element string; "" for one that goes in plain Code 128."""
    if len(number) == 22:
        return f"[{number[:2]}]{number[2:]}"
    return ""


def _zip(routing: str) -> str:
    return routing if len(routing) == 5 else f"{routing[:5]}-{routing[5:]}"


def _print_card(card: Sheet, piece: Piece) -> None:
    ink = _PLUM if piece.card else _SLATE
    middle = CARD_MM[0] / 2 + 1
    title = "Proof-of-delivery card" if piece.card else "Proof-of-delivery card, abroad"
    card.text(8, 9, title, Type(size_mm=5.2, colour=ink, face=BOLD))
    card.text(8, 14, "Send this card back to", Type(size_mm=2.9, colour=ink))
    for line, text in enumerate(SENDER):
        card.text(40, 14 + 4 * line, text, Type(size_mm=3.4, colour=_BLACK))
    if piece.card:
        _print_card_number(card, piece)
    left, top, wide, high = BOX_MM
    card.text(left, top - 0.9, "Number on the mailing's label", Type(size_mm=2.4, colour=ink))
    card.frame((left, top, wide, high), ink, line_mm=0.3)
    card.text(8, 66.6, "Addressed to", Type(size_mm=2.7, colour=ink))
    card.dashes(26, 70.5, 56, ink, upright=False)
    card.dashes(middle, 5, CARD_MM[1] - 10, ink, upright=True)
    for text, top_mm, high_mm in (
        ("Received by (signature)", 12.0, 20.0),
        ("Name in capitals", 38.0, 12.0),
        ("Day, month, year", 56.0, 11.0),
    ):
        card.text(middle + 6, top_mm - 1.2, text, Type(size_mm=2.8, colour=ink))
        card.frame((middle + 6, top_mm, 76, high_mm), ink, line_mm=0.2)
    card.text(middle + 6, 75, "To be completed at the door", Type(size_mm=2.6, colour=ink))


def _print_card_number(card: Sheet, piece: Piece) -> None:
    is_gs1 = int(piece.name) % 2 == 1
    modules = bar_modules(_as_gs1(piece.card) if is_gs1 else piece.card, gs1=is_gs1)
    wide = card.bars(_CARD_BARS_LEFT_MM, _CARD_BARS_TOP_MM, modules,
                     module_mm=_CARD_X_MM, height_mm=_CARD_BARS_MM)
    card.text(_CARD_BARS_LEFT_MM + wide / 2, _CARD_BARS_TOP_MM + _CARD_BARS_MM + 3.1,
              grouped(piece.card), Type(size_mm=3.2, colour=_BLACK), is_centred=True)


def _write(
    sheet: Sheet, text: str, hand: Hand, place_mm: tuple[float, float, float, float],
    rng: np.random.Generator, /,
) -> None:
    """Write a line; place_mm is its start, its baseline, the room it has in width
    and its digits' height."""
    left, foot, wide, high = place_mm
    ink = write_line(text, hand=hand, height_mm=high, width_mm=wide, rng=rng)
    sheet.stain(left, foot - ink.shape[0] / PX_PER_MM * 2 / 3, ink, hand.ink)


def _fill_box(card: Sheet, piece: Piece, hand: Hand, rng: np.random.Generator) -> None:
    left, top, wide, high = BOX_MM
    if piece.box_by in (BoxBy.STRIP_BARCODE, BoxBy.STRIP_PRINT):
        strip = _strip(piece, rng)
        angle = float(rng.choice((-1.0, 1.0)) * rng.uniform(1.0, 1.9))
        card.paste(strip, x_mm=left + wide / 2 + rng.uniform(-4, 2),
                   y_mm=top + high / 2 + rng.uniform(-0.3, 0.3), angle_deg=angle)
    elif piece.struck:
        spoilt = write_line(grouped(piece.struck), hand=hand, height_mm=3.3,
                            width_mm=wide - 4, rng=rng)
        columns = np.flatnonzero(spoilt.max(axis=0) > 0.3) / PX_PER_MM
        strike_out(spoilt, from_mm=columns[0] - 0.4, to_mm=columns[-1] + 0.8, rng=rng)
        card.stain(left + 1, top + 4.6 - spoilt.shape[0] / PX_PER_MM * 2 / 3, spoilt, hand.ink)
        _write(card, grouped(piece.box), hand, (left + 1, top + high - 0.9, wide - 2, 3.7), rng)
    elif piece.box_by is BoxBy.HAND:
        text = piece.box if piece.error == "name" else grouped(piece.box)
        foot = top + high - 2.9 + float(rng.uniform(-0.4, 0.4))
        _write(card, text, hand, (left + 1.2, foot, wide - 2.5, 5.0), rng)


def _strip(piece: Piece, rng: np.random.Generator) -> Sheet:
    """A strip cut by hand from a second label: bars, print or both."""
    if piece.box_by is BoxBy.STRIP_PRINT:
        strip = Sheet(width_mm=62, height_mm=7, stock=_WHITE)
        strip.text(
            31, 5.0, grouped(piece.box),
            Type(size_mm=4.3, colour=_BLACK, face=BOLD), is_centred=True,
        )
        return strip
    is_gs1 = len(piece.box_bars) == 22 and int(piece.name) % 3 > 0
    content = _as_gs1(piece.box_bars) if is_gs1 else piece.box_bars
    modules = bar_modules(content, gs1=is_gs1)
    bars_mm = len(modules) * _STRIP_X_MM
    quiet = 11 * _STRIP_X_MM
    strip = Sheet(width_mm=bars_mm + 2 * quiet + rng.uniform(0, 2), height_mm=9.0, stock=_WHITE)
    strip.bars(quiet, 0.7, modules, module_mm=_STRIP_X_MM, height_mm=5.4)
    strip.text(
        quiet + bars_mm / 2, 8.4, grouped(piece.box),
        Type(size_mm=2.5, colour=_BLACK, face=MONO), is_centred=True,
    )
    return strip


def _glare(card: Sheet) -> None:
    """A lamp's reflection over the card's own bars."""
    shine = np.zeros(card.alpha.shape, np.float32)
    centre = (round(34 * PX_PER_MM), round((_CARD_BARS_TOP_MM + 3.2) * PX_PER_MM))
    axes = (round(11 * PX_PER_MM), round(7.5 * PX_PER_MM))
    cv2.ellipse(shine, centre, axes, -12, 0, 360, (1.1,), -1)
    halo = np.asarray(cv2.GaussianBlur(shine, (0, 0), 9 * PX_PER_MM))
    core = np.asarray(cv2.GaussianBlur(shine, (0, 0), 1.8 * PX_PER_MM))
    card.shine = np.clip(core + 0.35 * halo, 0, 1).astype(np.float32)

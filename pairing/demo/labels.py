"""The label on the mailing's front, drawn flat.

Bars: X 0.34 to 0.38 mm and 19 to 20 mm high (the field's guides ask for 0.33 to 0.53 mm
and 19 mm; S10: 0.33 to 0.51 mm), quiet zones of 10 X or more.
"""

from __future__ import annotations

import numpy as np

from pairing.demo.hand import HANDS
from pairing.demo.paper import BLACK, PLUM, SLATE, WHITE, as_gs1, grouped, write
from pairing.demo.scenario import SENDERS, STREETS, ZIP, CardDesign, Piece
from pairing.demo.sheet import BOLD, MONO, Color, Sheet, Type, bar_modules


def label_sheet(piece: Piece) -> Sheet:
    """The label that goes on the mailing's front."""
    if piece.routing:
        return _package_label(piece)
    if piece.design is not CardDesign.BOARD:
        return _number_above(piece.article)
    if piece.article[0] == "R":
        return _number_label(piece.article, title="REGISTERED, ABROAD", ink=PLUM, x_mm=0.36)
    if len(piece.article) == 20:
        return _number_label(piece.article, title="SIGNED-FOR LETTER", ink=SLATE, x_mm=0.38)
    return _number_label(piece.article, title="ACCOUNTABLE LETTER", ink=SLATE, x_mm=0.36)


def envelope_sheet(
    piece: Piece,
    *,
    size_mm: tuple[float, float],
    stock: Color,
    label_mm: tuple[float, float],
    rng: np.random.Generator,
) -> Sheet:
    """An envelope's front, size_mm (width, height), with the label on it, its top
    left corner at label_mm."""
    envelope = Sheet(width_mm=size_mm[0], height_mm=size_mm[1], stock=stock)
    label = label_sheet(piece)
    left, top = label_mm
    for line, text in enumerate(SENDERS[piece.design]):
        envelope.text(6, 8 + 4.2 * line, text, Type(size_mm=3.4, color=SLATE))
    envelope.paste(
        label,
        x_mm=left + label.width_mm / 2,
        y_mm=top + label.height_mm / 2,
        angle_deg=float(rng.uniform(-1.0, 1.0)),
    )
    if not piece.routing:
        place = f"Quillhaven {ZIP}" if piece.card else "Abroad"
        for line, text in enumerate((piece.addressee, STREETS[piece.addressee], place)):
            write(
                envelope,
                text,
                HANDS[piece.hand],
                (left + 16 + line, size_mm[1] - 18.5 + 6.4 * line, 70, 2.9),
                rng,
            )
    if piece.second_article:
        extra = _sticker(piece.second_article)
        envelope.paste(
            extra,
            x_mm=left + 2 + extra.width_mm / 2,
            y_mm=top + label.height_mm + 5 + extra.height_mm / 2,
            angle_deg=2.2,
        )
    return envelope


def _number_label(number: str, *, title: str, ink: Color, x_mm: float) -> Sheet:
    modules = bar_modules(as_gs1(number) or number, gs1=bool(as_gs1(number)))
    bars_mm = len(modules) * x_mm
    label = Sheet(width_mm=bars_mm + 34, height_mm=43, stock=WHITE)
    label.fill(2.2, 2.2, 5, 38.4, ink)
    label.text(15, 7.2, title, Type(size_mm=4.6, color=ink, face=BOLD))
    label.text(15, 11.2, "Deliver against signature only", Type(size_mm=2.9, color=ink))
    left = 15 + 12 * x_mm
    label.bars(left, 14.5, modules, module_mm=x_mm, height_mm=20)
    label.text(
        left + bars_mm / 2,
        39.6,
        grouped(number),
        Type(size_mm=4.1, color=BLACK, face=BOLD),
        is_centered=True,
    )
    label.frame((0.4, 0.4, label.width_mm - 1, 42), ink, line_mm=0.3)
    return label


def _number_above(number: str) -> Sheet:
    """The number over its bars, what to do with the piece under them, and a stub to tear off."""
    x_mm = 0.36
    modules = bar_modules(as_gs1(number) or number, gs1=bool(as_gs1(number)))
    bars_mm = len(modules) * x_mm
    label = Sheet(width_mm=bars_mm + 40, height_mm=39, stock=WHITE)
    label.text(4 + 12 * x_mm + bars_mm / 2, 7.4, grouped(number),
               Type(size_mm=4.4, color=BLACK, face=BOLD), is_centered=True)  # fmt: skip
    label.bars(4 + 12 * x_mm, 10, modules, module_mm=x_mm, height_mm=20)
    label.fill(4, 32, bars_mm + 24 * x_mm, 4.8, BLACK)
    label.text(6, 35.6, "HAND OVER AGAINST A SIGNATURE",
               Type(size_mm=3.4, color=WHITE, face=BOLD))  # fmt: skip
    stub = label.width_mm - 22
    label.dashes(stub, 1, 37, SLATE, upright=True)
    label.text(stub + 11, 22, "S", Type(size_mm=18, color=SLATE, face=BOLD), is_centered=True)
    label.text(stub + 11, 30, "signed for", Type(size_mm=3.0, color=SLATE), is_centered=True)
    return label


def _package_label(piece: Piece) -> Sheet:
    x_mm = 0.35
    content = f"[420]{piece.routing}{as_gs1(piece.article)}"
    modules = bar_modules(content, gs1=True)
    bars_mm = len(modules) * x_mm
    label = Sheet(width_mm=bars_mm + 18, height_mm=66, stock=WHITE)
    wide = label.width_mm
    label.text(5, 9, "To", Type(size_mm=3.2, color=SLATE))
    label.text(13, 9.4, piece.addressee, Type(size_mm=4.4, color=BLACK, face=BOLD))
    label.text(13, 14.6, STREETS[piece.addressee], Type(size_mm=4.0, color=BLACK))
    label.text(13, 19.6, f"Quillhaven {_zip(piece.routing)}", Type(size_mm=4.0, color=BLACK))
    label.fill(0.4, 23.5, wide - 0.8, 0.5, SLATE)
    label.text(
        wide / 2,
        28.6,
        "Accountable parcel letter - signature needed",
        Type(size_mm=3.5, color=SLATE, face=BOLD),
        is_centered=True,
    )
    label.bars((wide - bars_mm) / 2, 32.5, modules, module_mm=x_mm, height_mm=20)
    label.text(
        wide / 2,
        58.6,
        grouped(piece.article),
        Type(size_mm=4.6, color=BLACK, face=BOLD),
        is_centered=True,
    )
    label.frame((0.4, 0.4, wide - 1, 65), SLATE, line_mm=0.3)
    return label


def _sticker(number: str) -> Sheet:
    modules = bar_modules(number, gs1=False)
    bars_mm = len(modules) * 0.34
    sticker = Sheet(width_mm=bars_mm + 9, height_mm=22, stock=WHITE)
    sticker.bars(4.5, 3, modules, module_mm=0.34, height_mm=12.5)
    sticker.text(
        4.5 + bars_mm / 2,
        19.6,
        grouped(number),
        Type(size_mm=3.0, color=BLACK, face=MONO),
        is_centered=True,
    )
    return sticker


def _zip(routing: str) -> str:
    return routing if len(routing) == 5 else f"{routing[:5]}-{routing[5:]}"

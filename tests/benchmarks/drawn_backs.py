"""The other side of a card, drawn by parameters: postage at the top, and where the sender's own
address goes. A seed is a design; all of it is invented; sizes in mm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pairing.demo.hand import HANDS
from pairing.demo.paper import write
from pairing.demo.sheet import BOLD, SANS, Color, Sheet, Type
from pairing.photos.forms.definition import NO_BOX, Form
from pairing.photos.forms.learning import Marked, learned, no_box
from tests.benchmarks.card_photos import corners, photographed
from tests.benchmarks.designs import (
    DARK_GREEN,
    GREEN,
    INK_BLACK,
    NAVY,
    PINK,
    RED,
    WHITE,
    YELLOW,
    Rect,
)
from tests.benchmarks.drawn_fields import gray_of

_STOCKS = (GREEN, YELLOW, PINK, WHITE)
_INKS = (DARK_GREEN, RED, NAVY, INK_BLACK)
_TEXTS = (
    ("POSTAL SERVICE", "Postage and fees paid", "Sender: print your name, address and code here"),
    ("SERVICE DES POSTES", "Port paye", "Expediteur : nom et adresse complete"),
    ("POSTSACHE", "Gebuehr bezahlt", "Absender: Name und vollstaendige Anschrift"),
    ("SERVIZIO POSTALE", "Affrancatura pagata", "Mittente: nome, via, CAP e localita"),
)
_PLACES = (("Isaura Penbrook", "12 Gannet Row", "Quillhaven 40112"),
           ("Drainage Board", "2 Sluice Yard", "Quillhaven"))  # fmt: skip
"""Invented."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Back:
    """One design. marked: how the sender's place shows: ruled around, by lines to write on, or
    not at all under its words."""

    name: str
    size: tuple[float, float]
    stock: Color
    ink: Color
    texts: tuple[str, str, str]
    sender: Rect
    marked: str
    face: str = SANS


def back(seed: int) -> Back:
    """The design of that seed."""
    rng = np.random.default_rng([seed, 97])
    wide, high = float(rng.uniform(140, 175)), float(rng.uniform(80, 105))
    long, tall = float(rng.uniform(60, 85)), float(rng.uniform(20, 30))
    return Back(
        name=f"back-{seed}",
        size=(round(wide, 1), round(high, 1)),
        stock=_STOCKS[int(rng.integers(len(_STOCKS)))],
        ink=_INKS[int(rng.integers(len(_INKS)))],
        texts=_TEXTS[int(rng.integers(len(_TEXTS)))],
        sender=(round(float(rng.uniform(8, wide - long - 8)), 1),
                round(float(rng.uniform(34, high - tall - 6)), 1), round(long, 1), round(tall, 1)),
        marked=str(rng.choice(("frame", "lines", "open"))),
    )  # fmt: skip


def empty(design: Back) -> Sheet:
    """The card's other side as it comes from the printer."""
    sheet = Sheet(width_mm=design.size[0], height_mm=design.size[1], stock=design.stock)
    wide, _ = design.size
    small = Type(size_mm=2.6, color=design.ink, face=design.face)
    title, paid, words = design.texts
    sheet.text(8, 11, title, Type(size_mm=5.0, color=design.ink, face=BOLD))
    sheet.fill(8, 14, wide - 60, 0.4, design.ink)
    for at, text in enumerate((paid, "First class", "Permit G-10")):
        sheet.text(wide - 44, 10 + 4.2 * at, text, small)
    sheet.frame((wide - 47, 4.5, 41, 18), design.ink, line_mm=0.3)
    left, top, long, tall = design.sender
    sheet.text(left + 1, top - 2.0, words, small)
    if design.marked == "frame":
        sheet.frame(design.sender, design.ink, line_mm=0.3)
    if design.marked == "lines":
        for at in (1, 2, 3):
            sheet.fill(left, top + at * tall / 3, long, 0.2, design.ink)
    return sheet


def filled(design: Back, rng: np.random.Generator) -> Sheet:
    """The same with a sender's address, by hand, stamped or printed."""
    sheet = empty(design)
    left, top, long, tall = design.sender
    hand = list(HANDS.values())[int(rng.integers(len(HANDS)))]
    is_typed = bool(rng.random() < 0.4)
    for at, text in enumerate(_PLACES[int(rng.integers(len(_PLACES)))]):
        x = left + float(rng.uniform(2, 6))
        foot = top + (at + 0.8) * tall / 3
        if is_typed:
            size = float(rng.uniform(2.8, 3.8))
            sheet.text(x, foot, text, Type(size_mm=size, color=INK_BLACK, face=SANS))
        else:
            write(sheet, text, hand, (x, foot, long * 0.8, float(rng.uniform(2.6, 3.6))), rng)
    return sheet


def taught_back(design: Back) -> Form:
    """Its form with the sender's field, learned from one phone photo of the empty side."""
    rng = np.random.default_rng([*design.name.encode(), 78])
    jpeg, to_photo = photographed(empty(design), "phone", rng)

    def at(rect: Rect) -> NDArray[np.float64]:
        return np.array(corners(to_photo, rect))

    around = at((0.0, 0.0, *design.size))
    marked = Marked(
        corners=around,
        box=no_box(around, design.size),
        size_mm=design.size,
        kind=NO_BOX,
        fields=(("sender", at(design.sender)),),
    )
    return learned(design.name, [gray_of(jpeg)], marked)

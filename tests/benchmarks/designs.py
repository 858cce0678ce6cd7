"""Cards of many designs, drawn by parameters: what the program must read without having drawn.

Each design is data: stock, ink, language, where its fields, its own bars and its number's box
lie. `TUNED` are the designs that limits were set by; `KEPT` are for measuring only. Hands are
those of `pairing/demo` (never trained on). All of it is invented; sizes in mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.demo.camera import Placed, Shot, _place, _view, photograph
from pairing.demo.hand import HANDS, Hand, write_line
from pairing.demo.paper import as_gs1, grouped, write
from pairing.demo.sheet import (
    BOLD,
    MONO,
    PX_PER_MM,
    SANS,
    Colour,
    Sheet,
    Type,
    bar_modules,
)  # fmt: skip
from pairing.demo.table import TABLES
from pairing.numbers.checkdigit import mod10

Rect = tuple[float, float, float, float]
"""left, top, width, height, mm."""
COMB_CELLS = 22
MODES = ("hand", "strip_text", "strip_barcode")
LEVELS = ("clean", "phone", "hard")


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """What a card says, in one language."""

    title: str
    number: str
    footer: str
    address: str
    signature: str
    name: str
    date: str
    services: tuple[str, ...]


ENGLISH = Words(
    title="RETURN CARD", number="2. Article number (copy from label)", footer="RETURN RECEIPT",
    address="1. Addressed to", signature="A. Signature", name="B. Received by",
    date="C. Date of delivery",
    services=("Certified", "Registered", "Insured", "Adult signature", "Express", "Other"),
)  # fmt: skip
FRENCH = Words(
    title="AVIS DE RECEPTION", number="Numero de l'envoi", footer="a renvoyer",
    address="Destinataire", signature="Signature", name="Nom en majuscules", date="Date et lieu",
    services=("Lettre", "Imprime", "Colis", "Valeur", "Mandat", "Autre"),
)  # fmt: skip
GERMAN = Words(
    title="RUECKSCHEIN", number="Sendungsnummer", footer="An den Absender",
    address="Empfaenger", signature="Unterschrift", name="Name in Druckschrift", date="Datum",
    services=("Brief", "Paeckchen", "Wertbrief", "Eigenhaendig", "Nachnahme", "Sonstige"),
)  # fmt: skip
ITALIAN = Words(
    title="AVVISO DI RICEVIMENTO", number="Numero della raccomandata", footer="mod. 23 R",
    address="Destinatario", signature="Firma", name="Nome e cognome", date="Data",
    services=("Raccomandata", "Atto", "Pacco", "Assicurata", "Vaglia", "Altro"),
)  # fmt: skip

GREEN: Colour = (221, 238, 221)
YELLOW: Colour = (247, 232, 170)
PINK: Colour = (244, 205, 208)
ORANGE: Colour = (246, 206, 160)
WHITE: Colour = (248, 248, 246)
DARK_GREEN: Colour = (22, 72, 42)
RED: Colour = (176, 40, 52)
NAVY: Colour = (30, 42, 96)
INK_BLACK: Colour = (28, 28, 30)
GREY: Colour = (110, 112, 118)


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """One design. box_kind: frame, line, comb or free. bars: left, top, degrees clockwise (0 or
    90), narrow bar and height in mm, None for a card without. caption: where the box's words
    stand (above, inside, left). has_footer: small words in the box's foot. fields: other ruled
    cells, each with its words' key. shared: whether the cells are ruled wall to wall."""

    name: str
    size: tuple[float, float]
    stock: Colour
    ink: Colour
    words: Words
    box: Rect
    box_kind: str
    bars: tuple[float, float, int, float, float] | None
    caption: str = "above"
    has_footer: bool = False
    fields: tuple[tuple[Rect, str], ...] = ()
    checks: tuple[float, float] | None = None
    title: tuple[float, float, bool] = (6.0, 8.0, False)
    rule_mm: float = 0.25
    is_stamped: bool = False
    address: tuple[float, float] = (8.0, 24.0)


TUNED = (
    Design(
        name="grid", size=(150.0, 96.0), stock=GREEN, ink=DARK_GREEN, words=ENGLISH,
        box=(3.0, 75.0, 71.0, 17.5), box_kind="frame", caption="inside", has_footer=True,
        bars=(12.0, 54.0, 0, 0.33, 11.0), title=(3.0, 6.0, True), rule_mm=0.3,
        fields=(((3.0, 3.0, 71.0, 17.0), ""), ((3.0, 20.0, 71.0, 32.0), "address"),
                ((3.0, 52.0, 71.0, 23.0), ""), ((74.0, 3.0, 73.0, 27.0), "signature"),
                ((74.0, 30.0, 73.0, 17.0), "name"), ((74.0, 47.0, 73.0, 14.0), "date"),
                ((74.0, 61.0, 73.0, 31.5), "")),
        checks=(78.0, 66.0), address=(10.0, 29.0),
    ),
    Design(
        name="free-frame", size=(170.0, 80.0), stock=(246, 236, 212), ink=NAVY, words=ENGLISH,
        box=(9.0, 46.0, 74.0, 11.0), box_kind="frame", bars=(12.0, 26.0, 0, 0.34, 9.0),
        fields=(((98.0, 12.0, 66.0, 18.0), "signature"), ((98.0, 38.0, 66.0, 11.0), "name"),
                ((98.0, 58.0, 66.0, 11.0), "date")),
        title=(8.0, 9.0, False), address=(10.0, 66.0),
    ),
    Design(
        name="line", size=(148.0, 105.0), stock=PINK, ink=RED, words=FRENCH,
        box=(8.0, 82.0, 84.0, 11.0), box_kind="line", bars=(10.0, 50.0, 0, 0.30, 10.0),
        fields=(((90.0, 14.0, 52.0, 20.0), "signature"), ((90.0, 40.0, 52.0, 12.0), "name"),
                ((100.0, 62.0, 42.0, 12.0), "date")),
        title=(8.0, 10.0, False), address=(9.0, 22.0),
    ),
    Design(
        name="comb", size=(160.0, 90.0), stock=YELLOW, ink=INK_BLACK, words=GERMAN,
        box=(8.0, 70.0, 99.0, 8.0), box_kind="comb", bars=(10.0, 42.0, 0, 0.33, 10.0),
        fields=(((86.0, 10.0, 68.0, 20.0), "signature"), ((86.0, 36.0, 68.0, 13.0), "name")),
        title=(8.0, 9.0, False), checks=(100.0, 52.0), rule_mm=0.2, address=(10.0, 20.0),
    ),
    Design(
        name="no-frame", size=(155.0, 85.0), stock=WHITE, ink=INK_BLACK, words=ITALIAN,
        box=(8.0, 56.0, 80.0, 13.0), box_kind="free", bars=(10.0, 32.0, 0, 0.33, 10.0),
        fields=(((94.0, 10.0, 55.0, 22.0), "signature"), ((94.0, 38.0, 55.0, 14.0), "name")),
        title=(8.0, 9.0, False), checks=(96.0, 60.0), address=(10.0, 17.0),
    ),
    Design(
        name="portrait", size=(105.0, 148.0), stock=PINK, ink=(150, 30, 60), words=FRENCH,
        box=(8.0, 98.0, 88.0, 14.0), box_kind="frame", caption="inside",
        bars=(20.0, 72.0, 0, 0.33, 11.0), is_stamped=True, title=(8.0, 10.0, True),
        fields=(((8.0, 18.0, 88.0, 36.0), "address"), ((8.0, 54.0, 88.0, 14.0), "date"),
                ((8.0, 116.0, 88.0, 22.0), "signature")),
        address=(14.0, 29.0),
    ),
    Design(
        name="beside", size=(180.0, 78.0), stock=ORANGE, ink=INK_BLACK, words=ENGLISH,
        box=(84.0, 16.0, 80.0, 13.0), box_kind="frame", bars=(12.0, 18.0, 0, 0.33, 9.0),
        fields=(((84.0, 38.0, 80.0, 12.0), "name"), ((84.0, 58.0, 80.0, 14.0), "signature"),
                ((8.0, 40.0, 68.0, 32.0), "address")),
        title=(8.0, 8.0, False), address=(14.0, 50.0),
    ),
    Design(
        name="no-bars", size=(148.0, 105.0), stock=(236, 226, 210), ink=GREY, words=GERMAN,
        box=(8.0, 62.0, 82.0, 12.0), box_kind="frame", bars=None,
        fields=(((8.0, 78.0, 82.0, 20.0), "date"), ((96.0, 20.0, 46.0, 30.0), "signature"),
                ((96.0, 56.0, 46.0, 18.0), "name")),
        title=(8.0, 10.0, False), address=(12.0, 28.0),
    ),
)  # fmt: skip
KEPT = (
    Design(
        name="upright-bars", size=(165.0, 92.0), stock=GREEN, ink=INK_BLACK, words=ITALIAN,
        box=(40.0, 70.0, 86.0, 14.0), box_kind="frame", caption="inside",
        bars=(20.0, 14.0, 90, 0.33, 11.0), title=(40.0, 9.0, False),
        fields=(((40.0, 16.0, 86.0, 34.0), "address"), ((40.0, 50.0, 86.0, 20.0), "signature"),
                ((126.0, 16.0, 34.0, 34.0), "date"), ((126.0, 50.0, 34.0, 34.0), "name")),
        address=(48.0, 27.0),
    ),
    Design(
        name="comb-portrait", size=(110.0, 150.0), stock=WHITE, ink=RED, words=FRENCH,
        box=(6.0, 112.0, 96.8, 9.0), box_kind="comb", bars=(22.0, 84.0, 0, 0.33, 10.0),
        title=(8.0, 11.0, True), is_stamped=True, rule_mm=0.25,
        fields=(((6.0, 20.0, 97.0, 34.0), "address"), ((6.0, 58.0, 97.0, 18.0), "signature"),
                ((6.0, 128.0, 97.0, 16.0), "date")),
        address=(12.0, 31.0),
    ),
    Design(
        name="line-right", size=(175.0, 88.0), stock=YELLOW, ink=NAVY, words=GERMAN,
        box=(88.0, 58.0, 80.0, 12.0), box_kind="line", bars=(92.0, 32.0, 0, 0.31, 9.0),
        title=(90.0, 10.0, False), checks=(10.0, 62.0),
        fields=(((6.0, 6.0, 74.0, 22.0), "signature"), ((6.0, 28.0, 74.0, 13.0), "name"),
                ((6.0, 41.0, 74.0, 13.0), "date")),
        address=(92.0, 18.0),
    ),
    Design(
        name="tall-cell", size=(140.0, 100.0), stock=PINK, ink=INK_BLACK, words=ENGLISH,
        box=(4.0, 4.0, 84.0, 19.0), box_kind="frame", caption="inside", has_footer=True,
        bars=(14.0, 27.0, 0, 0.34, 10.0), title=(94.0, 12.0, False), rule_mm=0.4,
        fields=(((4.0, 23.0, 84.0, 24.0), ""), ((4.0, 47.0, 84.0, 28.0), "address"),
                ((4.0, 75.0, 84.0, 21.0), "signature"), ((88.0, 23.0, 48.0, 24.0), "name"),
                ((88.0, 47.0, 48.0, 49.0), "")),
        checks=(93.0, 54.0), address=(12.0, 57.0),
    ),
)  # fmt: skip
DESIGNS = {design.name: design for design in (*TUNED, *KEPT)}


@dataclass(slots=True)
class Filled:
    """A card being filled in: where the number's line lies is told as it is written."""

    sheet: Sheet
    design: Design
    hand: Hand
    article: str
    card: str
    rng: np.random.Generator
    ink: list[Rect] = field(default_factory=list)

    @property
    def writing(self) -> Rect:
        """The part of the box that is free for the number."""
        left, top, wide, high = self.design.box
        above = 4.2 if self.design.caption == "inside" else 0.0
        below = 3.6 if self.design.has_footer else 0.0
        return left, top + above, wide, high - above - below

    def line(self, text: str, *, foot: float | None = None, tall: float | None = None) -> Rect:
        """Write a line by hand; left, top, width, height of its ink."""
        left, top, wide, high = self.writing
        tall = tall or min(5.0, 0.52 * high)
        foot = top + high - max(0.9, 0.24 * high) if foot is None else foot
        room = wide - 3.0
        if self.design.box_kind == "comb":
            return self._comb(text.replace(" ", ""), foot, min(tall, 0.62 * high))
        ink = write_line(text, hand=self.hand, height_mm=tall, width_mm=room, rng=self.rng)
        columns = np.flatnonzero(ink.max(axis=0) > 0.3) / PX_PER_MM
        rows = np.flatnonzero(ink.max(axis=1) > 0.3) / PX_PER_MM
        spare = max(0.0, room - columns[-1])
        x = left + 1.5 + self.rng.uniform(0, 0.6) * spare
        y = foot - ink.shape[0] * 2 / 3 / PX_PER_MM
        self.sheet.stain(x, y, ink, self.hand.ink)
        place = (x + columns[0], y + rows[0], columns[-1] - columns[0], rows[-1] - rows[0])
        self.ink.append(place)
        return place

    def _comb(self, text: str, foot: float, tall: float) -> Rect:
        left, top, wide, high = self.design.box
        pitch = wide / COMB_CELLS
        foot = top + high - 0.2 * high
        for at, char in enumerate(text):
            ink = write_line(char, hand=self.hand, height_mm=tall, width_mm=9.0, rng=self.rng)
            columns = np.flatnonzero(ink.max(axis=0) > 0.3) / PX_PER_MM
            middle = (columns[0] + columns[-1]) / 2
            x = left + (at + 0.5) * pitch - middle + self.rng.normal(0, 0.25)
            self.sheet.stain(x, foot - ink.shape[0] * 2 / 3 / PX_PER_MM, ink, self.hand.ink)
        place = (left, foot - tall, pitch * len(text), tall)
        self.ink.append(place)
        return place

    def stroke(
        self, *points: tuple[float, float], pen: float = 0.4, ink: Colour | None = None,
        strength: float = 1.0,
    ) -> None:  # fmt: skip
        """Draw through the points, mm from the card's corner."""
        path = np.array(points)
        low, top = path.min(0) - 1.5, path.max(0) + 1.5
        size = np.ceil((top - low) * PX_PER_MM).astype(int)
        layer = np.zeros((size[1], size[0]), np.uint8)
        cv2.polylines(
            layer, [np.round((path - low) * PX_PER_MM * 16).astype(np.int32).reshape(-1, 1, 2)],
            False, (255,), max(1, round(pen * PX_PER_MM)), cv2.LINE_AA, 4,
        )  # fmt: skip
        self.sheet.stain(
            float(low[0]), float(low[1]), layer.astype(np.float32) * np.float32(strength / 255),
            ink or self.hand.ink,
        )  # fmt: skip

    def strip(self, text: str, *, bars: str | None, gs1: bool = True) -> Rect:
        """Paste a strip: bars over print, or print alone."""
        left, top, wide, high = self.writing
        if bars is None:
            strip = Sheet(width_mm=60 * min(1, wide / 64), height_mm=min(7.0, high - 1), stock=WHITE)
            strip.text(strip.width_mm / 2, strip.height_mm / 2 + 1.5, text,
                       Type(size_mm=4.2, colour=INK_BLACK, face=BOLD), is_centred=True)  # fmt: skip
        else:
            modules = bar_modules(as_gs1(bars) if gs1 and len(bars) == 22 else bars,
                                  gs1=gs1 and len(bars) == 22)  # fmt: skip
            x = 0.30
            tall = min(9.0, high + 0.5)
            strip = Sheet(width_mm=len(modules) * x + 7, height_mm=tall, stock=WHITE)
            strip.bars(3.5, 0.6, modules, module_mm=x, height_mm=tall - 3.7)
            strip.text(strip.width_mm / 2, tall - 0.6, text,
                       Type(size_mm=2.6, colour=INK_BLACK, face=MONO), is_centred=True)  # fmt: skip
        x_mm = left + wide / 2 + self.rng.uniform(-0.4, 0.4) * max(0.0, wide - strip.width_mm)
        y_mm = top + high / 2
        self.sheet.paste(strip, x_mm=x_mm, y_mm=y_mm, angle_deg=float(self.rng.uniform(-1.4, 1.4)))
        place = (x_mm - strip.width_mm / 2, y_mm - strip.height_mm / 2,
                 strip.width_mm, strip.height_mm)  # fmt: skip
        self.ink.append(place)
        return place


def digit_at(ink: Rect, place: int, count: int, design: Design) -> float:
    """About the middle of a digit, from 0, in a line written in groups of four, mm."""
    if design.box_kind == "comb":
        return ink[0] + (place + 0.5) * ink[2] / count
    whole = count + (count - 1) // 4 * 0.5
    return ink[0] + ink[2] * (place + place // 4 * 0.5 + 0.5) / whole


def article_number(rng: np.random.Generator) -> str:
    """An article number of 22 or 20 digits, invented, with its check digit."""
    front = "95890733614" if rng.random() < 0.6 else "706"
    digits = 21 if front != "706" else 19
    front += "".join(map(str, rng.integers(0, 10, digits - len(front))))
    return front + mod10(front)


def card_number(rng: np.random.Generator) -> str:
    """A card's own number, invented."""
    front = "9590948" + "".join(map(str, rng.integers(0, 10, 14)))
    return front + mod10(front)


def blank(design: Design, card: str) -> Sheet:
    """The card as it comes from the printer; card: its own number, "" for none printed."""
    sheet = Sheet(width_mm=design.size[0], height_mm=design.size[1], stock=design.stock)
    small = Type(size_mm=2.5, colour=design.ink)
    words = design.words
    for rect, key in design.fields:
        sheet.frame(rect, design.ink, line_mm=design.rule_mm)
        if key:
            sheet.text(rect[0] + 1.2, rect[1] + 3.2, getattr(words, key), small)
    x, y, is_band = design.title
    if is_band:
        sheet.fill(x, y - 3.0, design.size[0] - 2 * x, 5.2, design.ink)
        sheet.text(x + 2, y + 1.0, words.title, Type(size_mm=3.4, colour=design.stock, face=BOLD))
    else:
        sheet.text(x, y, words.title, Type(size_mm=4.6, colour=design.ink, face=BOLD))
    if design.checks:
        for at, service in enumerate(words.services):
            cx, cy = design.checks[0] + at // 3 * 26, design.checks[1] + at % 3 * 6.5
            sheet.frame((cx, cy, 2.6, 2.6), design.ink, line_mm=0.2)
            sheet.text(cx + 4, cy + 2.4, service, small)
    _print_box(sheet, design)
    if design.bars and card:
        _print_bars(sheet, design, card)
    return sheet


def _print_box(sheet: Sheet, design: Design) -> None:
    left, top, wide, high = design.box
    small = Type(size_mm=2.5, colour=design.ink)
    if design.box_kind in ("frame", "comb"):
        sheet.frame(design.box, design.ink, line_mm=design.rule_mm)
    if design.box_kind == "line":
        sheet.fill(left, top + high, wide, design.rule_mm, design.ink)
    if design.box_kind == "comb":
        for at in range(1, COMB_CELLS):
            x = left + at * wide / COMB_CELLS
            sheet.fill(x, top, design.rule_mm, high, design.ink)
    if design.caption == "inside":
        sheet.text(left + 1.0, top + 3.0, design.words.number, small)
    else:
        sheet.text(left, top - 0.9, design.words.number, small)
    if design.has_footer:
        foot = Type(size_mm=2.4, colour=design.ink, face=BOLD)
        sheet.text(left + 1.0, top + high - 0.9, design.words.footer, foot)


def _print_bars(sheet: Sheet, design: Design, card: str) -> None:
    assert design.bars is not None
    x, y, turn, module, high = design.bars
    modules = bar_modules(card, gs1=False)
    wide = len(modules) * module
    part = Sheet(width_mm=wide + 2, height_mm=high + 4.5, stock=design.stock)
    part.bars(1.0, 0.2, modules, module_mm=module, height_mm=high)
    part.text(1 + wide / 2, high + 3.6, grouped(card),
              Type(size_mm=3.2, colour=INK_BLACK), is_centred=True)  # fmt: skip
    if turn == 0:
        _lay(sheet, part.pixels, x, y)
    else:
        _lay(sheet, np.rot90(part.pixels, -1), x, y)


def _lay(sheet: Sheet, pixels: NDArray[np.float32], x: float, y: float) -> None:
    whole = sheet.pixels
    top, left = round(y * PX_PER_MM), round(x * PX_PER_MM)
    part = pixels[: whole.shape[0] - top, : whole.shape[1] - left]
    whole[top : top + part.shape[0], left : left + part.shape[1]] = part
    sheet.replace(whole)


def card_to_fill(design: Design, rng: np.random.Generator) -> Filled:
    """A card with its own number, addressed and, where the design says so, stamped."""
    hand = list(HANDS.values())[int(rng.integers(len(HANDS)))]
    card = card_number(rng) if design.bars else ""
    sheet = blank(design, card)
    _address(sheet, design, rng)
    return Filled(sheet=sheet, design=design, hand=hand, article=article_number(rng), card=card,
                  rng=rng)  # fmt: skip


_NAMES = ("Corin Thackmire", "Isaura Penbrook", "Theda Orrick", "Osric Dunmallow")


def _address(sheet: Sheet, design: Design, rng: np.random.Generator) -> None:
    x, y = design.address
    lines = (
        str(rng.choice(_NAMES)), f"{rng.integers(1, 999)} Gannet Row",
        f"Port Ellery {rng.integers(10000, 99999)}",
    )  # fmt: skip
    tall = 3.4 if rng.random() < 0.7 else 4.0
    hand = list(HANDS.values())[int(rng.integers(len(HANDS)))]
    is_by_hand = rng.random() < 0.4
    for at, text in enumerate(lines):
        foot = y + 5.0 * at
        if is_by_hand:
            write(sheet, text, hand, (x, foot, 60.0, 2.6), rng)
        else:
            face = SANS if rng.random() < 0.7 else MONO
            sheet.text(x, foot, text, Type(size_mm=tall, colour=INK_BLACK, face=face))


def stamp(card: Filled, x: float, y: float, *, strength: float = 0.6) -> None:
    """A round postmark with its middle at the point."""
    side = round(27 * PX_PER_MM)
    ink = np.zeros((side, side), np.uint8)
    middle = (side // 2, side // 2)
    for radius in (12.5, 8.0):
        cv2.circle(ink, middle, round(radius * PX_PER_MM), (255,), round(0.45 * PX_PER_MM),
                   cv2.LINE_AA)  # fmt: skip
    day = f"{card.rng.integers(1, 28):02d}.{card.rng.integers(1, 12):02d}.26"
    cv2.putText(ink, day, (round(7.4 * PX_PER_MM), round(14.5 * PX_PER_MM)),
                cv2.FONT_HERSHEY_SIMPLEX, 2.0, (255,), 6, cv2.LINE_AA)  # fmt: skip
    worn = card.rng.uniform(0.35, 1.0, (12, 12)).astype(np.float32)
    worn = cv2.resize(worn, (side, side), interpolation=cv2.INTER_CUBIC)
    layer = np.clip(ink.astype(np.float32) / 255 * worn, 0, 1) * np.float32(strength)
    card.sheet.stain(x - 13.5, y - 13.5, np.asarray(layer, np.float32), (50, 46, 60))


def fill_in(card: Filled, mode: str) -> str:
    """The number put in the box as people do; what is written."""
    text = grouped(card.article)
    if mode == "hand":
        card.line(text)
    elif mode == "strip_text":
        card.strip(text, bars=None)
    elif mode == "strip_barcode":
        card.strip(text, bars=card.article, gs1=card.rng.random() < 0.7)
    if card.design.is_stamped:
        left, top, wide, _ = card.design.box
        stamp(card, left + wide + card.rng.uniform(-6, 2), top - card.rng.uniform(10, 16))
    return card.article


def shot_of(level: str, rng: np.random.Generator) -> tuple[Shot, float]:
    """How a photo of that level is taken, and the sheet's own turn in degrees."""
    spread = {"clean": (2.0, 0.0, 0.55, 1.5), "phone": (14.0, 0.02, 0.85, 2.5),
              "hard": (25.0, 0.045, 1.3, 4.0)}[level]  # fmt: skip
    turn = float(rng.uniform(-spread[0], spread[0]))
    if level == "hard" and rng.random() < 0.3:
        turn += 180.0
    shot = Shot(
        px_per_mm=float(rng.uniform(9.5, 13.0) if level != "hard" else rng.uniform(8.5, 11.0)),
        turn_deg=turn, tilt=spread[1], blur_px=float(spread[2] * rng.uniform(0.8, 1.2)),
        light=float(rng.uniform(0.8, 1.05)), falloff=0.1 if level == "clean" else 0.35,
        noise=spread[3], has_shadow=level != "clean" and bool(rng.random() < 0.4),
        quality={"clean": 90, "phone": 84, "hard": 72}[level],
    )  # fmt: skip
    return shot, float(rng.uniform(-1, 1))


def photographed(
    sheet: Sheet, level: str, rng: np.random.Generator
) -> tuple[bytes, NDArray[np.float64]]:
    """A JPEG, and the (3, 3) map from the card's mm to the photo's px."""
    shot, angle = shot_of(level, rng)
    wide, high = sheet.width_mm, sheet.height_mm
    around = np.deg2rad(shot.turn_deg % 180.0)
    cos, sin = abs(np.cos(around)), abs(np.sin(around))
    size_mm = (wide * cos + high * sin + 14.0, wide * sin + high * cos + 14.0)
    placed = Placed(sheet=sheet, x_mm=size_mm[0] / 2, y_mm=size_mm[1] / 2, angle_deg=angle)
    seed = int(rng.integers(1 << 30))
    size = (round(size_mm[0] * shot.px_per_mm), round(size_mm[1] * shot.px_per_mm))
    photo = photograph((placed,), size_mm=size_mm, shot=shot, table=seed % TABLES,
                       rng=np.random.default_rng(seed))  # fmt: skip
    view = _view(size_mm, size, shot, np.random.default_rng(seed))
    return photo, view @ _place(placed) @ np.diag([PX_PER_MM, PX_PER_MM, 1.0])


def corners(to_photo: NDArray[np.float64], rect: Rect) -> list[tuple[float, float]]:
    """A rectangle's corners in the photo, from the left top clockwise, px."""
    left, top, wide, high = rect
    at = np.array([(left, top), (left + wide, top), (left + wide, top + high), (left, top + high)])
    there = cv2.perspectiveTransform(at.reshape(-1, 1, 2), to_photo).reshape(-1, 2)
    return [(float(x), float(y)) for x, y in there]


@cache
def taught(name: str, level: str = "phone", seed: int = 0) -> tuple[bytes, tuple[float, ...]]:
    """A photo of the empty card and, flat, its corners' and its box's px."""
    rng = np.random.default_rng([seed, *name.encode(), 77])
    design = DESIGNS[name]
    sheet = blank(design, card_number(rng) if design.bars else "")
    photo, to_photo = photographed(sheet, level, rng)
    places: Sequence[Rect] = ((0.0, 0.0, *design.size), design.box)
    return photo, tuple(v for place in places for xy in corners(to_photo, place) for v in xy)

"""Cards of the designs drawn flat and filled in, as people do."""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.demo.hand import HANDS, Hand, write_line
from pairing.demo.paper import as_gs1, grouped, write
from pairing.demo.sheet import BOLD, MONO, PX_PER_MM, SANS, Color, Sheet, Type, bar_modules
from pairing.numbers.checkdigit import mod10
from tests.benchmarks.blank_cards import blank
from tests.benchmarks.designs import COMB_CELLS, INK_BLACK, WHITE, Design, Rect
from tests.benchmarks.people import Person, write_number
from tests.benchmarks.postmarks import stamp


@dataclass(slots=True)
class Filled:
    """A card being filled in: where the number's line lies is told as it is written.

    person: whoever's digits the number is written in, else it is the hand. is_loose: written
    and stuck as it comes: up to the form's words and over them, aslant, strips of other sizes.
    middles: where the digits of the last line by a person are, mm."""

    sheet: Sheet
    design: Design
    hand: Hand
    article: str
    card: str
    rng: np.random.Generator
    ink: list[Rect] = field(default_factory=list)
    person: Person | None = None
    is_loose: bool = False
    middles: list[float] = field(default_factory=list)

    @property
    def writing(self) -> Rect:
        """The part of the box that is free for the number."""
        left, top, wide, high = self.design.box
        above = 4.2 if self.design.caption == "inside" else 0.0
        below = 3.6 if self.design.has_footer else 0.0
        return left, top + above, wide, high - above - below

    @property
    def pen(self) -> Color:
        """The ink that the number is written in."""
        is_comb = self.design.box_kind == "comb"
        return self.hand.ink if self.person is None or is_comb else self.person.ink

    def line(self, text: str, *, foot: float | None = None, tall: float | None = None) -> Rect:
        """Write a line by hand; left, top, width, height of its ink."""
        left, top, wide, high = self.writing
        most = float(self.rng.uniform(3.2, 6.2)) if self.is_loose else 5.0
        tall = tall or min(most, (0.75 if self.is_loose else 0.52) * high)
        if foot is None:
            low = float(self.rng.uniform(-1.2, max(0.5, high - tall))) if self.is_loose else 0.9
            foot = top + high - (low if self.is_loose else max(low, 0.24 * high))
        room = wide - 3.0
        if self.design.box_kind == "comb":
            return self._comb(text.replace(" ", ""), foot, min(tall, 0.62 * high))
        ink = self._ink(text, tall, room)
        if self.is_loose:
            ink = aslant(ink, float(self.rng.normal(0, 0.012)))
        columns = np.flatnonzero(ink.max(axis=0) > 0.3) / PX_PER_MM
        rows = np.flatnonzero(ink.max(axis=1) > 0.3) / PX_PER_MM
        spare = max(0.0, room - columns[-1])
        x = left + 1.5 + self.rng.uniform(0, 0.6) * spare
        y = foot - ink.shape[0] * 2 / 3 / PX_PER_MM
        self.sheet.stain(x, y, ink, self.pen)
        place = (x + columns[0], y + rows[0], columns[-1] - columns[0], rows[-1] - rows[0])
        self.ink.append(place)
        self.middles = [x + at for at in self.middles]
        return place

    def _ink(self, text: str, tall: float, wide: float) -> NDArray[np.float32]:
        if self.person is not None:
            self.middles = []
            return write_number(
                text, self.person, height_mm=tall, width_mm=wide, rng=self.rng,
                middles_mm=self.middles,
            )  # fmt: skip
        return write_line(text, hand=self.hand, height_mm=tall, width_mm=wide, rng=self.rng)

    def _comb(self, text: str, foot: float, tall: float) -> Rect:
        left, top, wide, high = self.design.box
        pitch = wide / COMB_CELLS
        foot = top + high - 0.2 * high
        for at, char in enumerate(text):
            ink = self._ink(char, tall, 9.0)
            columns = np.flatnonzero(ink.max(axis=0) > 0.3) / PX_PER_MM
            middle = (columns[0] + columns[-1]) / 2
            x = left + (at + 0.5) * pitch - middle + self.rng.normal(0, 0.25)
            self.sheet.stain(x, foot - ink.shape[0] * 2 / 3 / PX_PER_MM, ink, self.pen)
        place = (left, foot - tall, pitch * len(text), tall)
        self.ink.append(place)
        self.middles = [left + (at + 0.5) * pitch for at in range(len(text))]
        return place

    def stroke(
        self, *points: tuple[float, float], pen: float = 0.4, ink: Color | None = None,
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
            ink or self.pen,
        )  # fmt: skip

    def strip(
        self, text: str, *, bars: str | None, gs1: bool = True, high_mm: float | None = None
    ) -> Rect:
        """Paste a strip: bars over print, or print alone."""
        left, top, wide, high = self.writing
        if bars is None:
            tall = min(7.0, high - 1)
            size = float(self.rng.uniform(3.0, 4.4)) if self.is_loose else 4.2
            face = SANS if self.is_loose and self.rng.random() < 0.5 else BOLD
            tall = float(self.rng.uniform(size + 0.8, tall + 1)) if self.is_loose else tall
            strip = Sheet(width_mm=60 * min(1, wide / 64), height_mm=tall, stock=WHITE)
            kind = Type(size_mm=size, color=INK_BLACK, face=face)
            middle = strip.width_mm / 2, strip.height_mm / 2 + 1.5
            strip.text(*middle, text, kind, is_centered=True)
        else:
            # Another application identifier than 92 to 95 is no article's, and not encoded.
            gs1 = gs1 and len(bars) == 22 and bars[:2] in ("92", "93", "94", "95")
            modules = bar_modules(as_gs1(bars) if gs1 else bars, gs1=gs1)
            x = (
                float(self.rng.uniform(0.25, min(0.33, (wide - 8) / len(modules))))
                if self.is_loose
                else 0.30
            )
            tall = min(9.0, high + 0.5)
            tall = float(self.rng.uniform(8.0, max(9.5, high + 2.0))) if self.is_loose else tall
            tall = high_mm or tall
            strip = Sheet(width_mm=len(modules) * x + 7, height_mm=tall, stock=WHITE)
            strip.bars(3.5, 0.6, modules, module_mm=x, height_mm=tall - 3.7)
            strip.text(strip.width_mm / 2, tall - 0.6, text,
                       Type(size_mm=2.6, color=INK_BLACK, face=MONO), is_centered=True)  # fmt: skip
        x_mm = left + wide / 2 + self.rng.uniform(-0.4, 0.4) * max(0.0, wide - strip.width_mm)
        y_mm = top + high / 2
        y_mm += float(self.rng.uniform(-1.5, 1.5)) if self.is_loose else 0.0
        self.sheet.paste(strip, x_mm=x_mm, y_mm=y_mm, angle_deg=float(self.rng.uniform(-1.4, 1.4)))
        place = (x_mm - strip.width_mm / 2, y_mm - strip.height_mm / 2,
                 strip.width_mm, strip.height_mm)  # fmt: skip
        self.ink.append(place)
        return place


def aslant(ink: NDArray[np.float32], slope: float) -> NDArray[np.float32]:
    """A line of ink that rises or falls by that much."""
    matrix = np.array([[1, 0, 0], [slope, 1, -slope * ink.shape[1] / 2]])
    return np.asarray(cv2.warpAffine(ink, matrix, ink.shape[::-1]), np.float32)


def through(card: Filled, left: float, right: float, y: float, **how: object) -> None:
    """A stroke by hand, a little uneven."""
    xs = np.linspace(left, right, 6)
    lean = card.rng.normal(0, 0.012)
    ys = y + (xs - xs.mean()) * lean + card.rng.normal(0, 0.08, 6)
    card.stroke(*zip(xs.tolist(), ys.tolist(), strict=True), **how)  # type: ignore[arg-type]


def digit_at(card: Filled, ink: Rect, place: int) -> float:
    """About the middle of a digit of the article number, from 0, in a line written in groups of
    four, mm; by a person's hand where it is."""
    count, design = len(card.article), card.design
    if len(card.middles) == count:
        return card.middles[place]
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


def card_to_fill(design: Design, rng: np.random.Generator) -> Filled:
    """A card with its own number, addressed and, where the design says so, stamped."""
    hand = list(HANDS.values())[int(rng.integers(len(HANDS)))]
    card = card_number(rng) if design.bars else ""
    sheet = blank(design, card)
    _address(sheet, design, rng)
    return Filled(sheet=sheet, design=design, hand=hand, article=article_number(rng),
                  card=card, rng=rng)  # fmt: skip


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
            sheet.text(x, foot, text, Type(size_mm=tall, color=INK_BLACK, face=face))


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
        stamp(
            card.sheet,
            card.rng,
            left + wide + card.rng.uniform(-6, 2),
            top - card.rng.uniform(10, 16),
        )
    return card.article

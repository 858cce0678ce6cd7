"""Boxes in which the label's number was written and then spoiled, as whole cards in photos.

`python -m tests.benchmarks.spoiled MANY [KIND ...]`: of each kind of spoiling so many cards, with
fixed seeds, and how many of them are taken to agree. Every one should be left to a person, or
differ; `plain` is not spoiled and shows what is lost. Hands are the demo's four fonts, and how
people spoil a number is invented: this finds what the reader was never shown, and is no rate.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

from pairing.demo.camera import Placed, Shot, photograph
from pairing.demo.cards import BOX_MM, card_sheet
from pairing.demo.hand import HANDS, Hand, write_line
from pairing.demo.paper import grouped, write
from pairing.demo.scenario import BoxBy, Piece
from pairing.demo.sheet import PX_PER_MM, Sheet
from pairing.judge import judge, weigh
from pairing.model import How, Reading, Side, TrackingNumber, Verdict
from pairing.numbers import identify
from pairing.numbers.checkdigit import mod10
from pairing.photos.written import thresholds
from pairing.pieces.photo_groups import Photo
from pairing.pieces.reading import read_photo

CARD = "9590948231076137543417"
LEFT_MM, TOP_MM, WIDE_MM, HIGH_MM = BOX_MM
_FOOT_MM = TOP_MM + HIGH_MM - 3.0
_TALL_MM, _LOW_MM = 5.0, 3.5
"""A number's height on its own, and where another finds room above or below it."""


@dataclass(slots=True)
class Box:
    """A card's box to write in, by one hand."""

    sheet: Sheet
    hand: Hand
    article: str
    rng: np.random.Generator

    def line(self, text: str, *, foot_mm: float = _FOOT_MM, tall_mm: float = _TALL_MM) -> Ink:
        """Write a line; where its ink stands."""
        width_mm = WIDE_MM - 2.5
        ink = write_line(text, hand=self.hand, height_mm=tall_mm, width_mm=width_mm, rng=self.rng)
        columns = np.flatnonzero(ink.max(axis=0) > 0.3) / PX_PER_MM
        rows = np.flatnonzero(ink.max(axis=1) > 0.3) / PX_PER_MM
        base_mm = ink.shape[0] * 2 / 3 / PX_PER_MM
        x_mm, y_mm = LEFT_MM + 1.2, foot_mm - base_mm
        self.sheet.stain(x_mm, y_mm, ink, self.hand.ink)
        return Ink(
            left_mm=x_mm + columns[0],
            right_mm=x_mm + columns[-1],
            top_mm=y_mm + rows[0],
            foot_mm=foot_mm,
        )

    def stroke(self, *points: tuple[float, float], pen_mm: float = 0.35) -> None:
        """Draw over what is there. points: mm from the card's corner."""
        ink = np.zeros((round(HIGH_MM * PX_PER_MM), round(WIDE_MM * PX_PER_MM)), np.uint8)
        path = (np.array(points) - (LEFT_MM, TOP_MM)) * PX_PER_MM * 16
        cv2.polylines(ink, [np.round(path).astype(np.int32).reshape(-1, 1, 2)], False, (255,),
                      max(1, round(pen_mm * PX_PER_MM)), cv2.LINE_AA, 4)  # fmt: skip
        self.sheet.stain(LEFT_MM, TOP_MM, ink.astype(np.float32) / np.float32(255), self.hand.ink)

    def any_place(self, but: str = "") -> int:
        """A digit's place, from 0, of which the article's digit is none of these."""
        return int(self.rng.choice([n for n, digit in enumerate(self.article) if digit not in but]))

    def another(self, place: int) -> str:
        """Another digit than the article's there."""
        return str((int(self.article[place]) + int(self.rng.integers(1, 10))) % 10)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ink:
    """The stretch of a line."""

    left_mm: float
    right_mm: float
    top_mm: float
    foot_mm: float

    def middle_mm(self, place: int) -> float:
        """About the middle of a digit of 22 in groups of four, from 0."""
        return (
            self.left_mm + (self.right_mm - self.left_mm) * (place + place // 4 * 0.5 + 0.5) / 24.5
        )


def plain(box: Box) -> None:
    """Written as it should be."""
    box.line(grouped(box.article))


def overwritten(box: Box) -> None:
    """One digit was made another by writing that on top."""
    place = box.any_place()
    ink = box.line(grouped(box.article))
    x_mm = ink.middle_mm(place) - 1.8
    write(box.sheet, box.another(place), box.hand, (x_mm, _FOOT_MM, 6.0, 3.0), box.rng)


def overwritten_boldly(box: Box) -> None:
    """The same with a pressed pen, larger."""
    place = box.any_place()
    ink = box.line(grouped(box.article))
    bold = replace(box.hand, pen_mm=box.hand.pen_mm + 0.35)
    x_mm = ink.middle_mm(place) - 2.0
    write(box.sheet, box.another(place), bold, (x_mm, _FOOT_MM + 0.2, 7.0, 3.4), box.rng)


def slashed(box: Box) -> None:
    """One digit, no zero (which some people slash), was struck out by one stroke."""
    place = box.any_place(but="0")
    x_mm = box.line(grouped(box.article)).middle_mm(place)
    box.stroke((x_mm - 1.0, _FOOT_MM + 0.3), (x_mm + 1.0, _FOOT_MM - 3.6))


def scribbled(box: Box) -> None:
    """One digit was scribbled over."""
    x_mm = box.line(grouped(box.article)).middle_mm(box.any_place())
    points = [
        (x_mm + box.rng.uniform(-1.1, 1.1), _FOOT_MM - box.rng.uniform(0, 3.6)) for _ in range(12)
    ]
    box.stroke(*points, pen_mm=0.4)


def left_out(box: Box) -> None:
    """One digit is missing and its place left free."""
    text, place = grouped(box.article), 1 + box.any_place() % 20
    place += place // 4
    box.line(f"{text[:place]} {text[place + 1 :]}")


def pasted_over(box: Box) -> None:
    """A slip with another digit was pasted over one."""
    place = box.any_place()
    ink = box.line(grouped(box.article))
    slip = Sheet(width_mm=2.6, height_mm=6, stock=(255, 255, 255))
    write(slip, box.another(place), box.hand, (0.2, 4.6, 3.5, 3.4), box.rng)
    box.sheet.paste(slip, x_mm=ink.middle_mm(place), y_mm=_FOOT_MM - 2.0, angle_deg=0.0)


def corrected_below(box: Box) -> None:
    """Another digit is written below one."""
    place = box.any_place()
    ink = box.line(grouped(box.article), foot_mm=_FOOT_MM - 1.6, tall_mm=_LOW_MM)
    at_mm = (ink.middle_mm(place) - 1.2, TOP_MM + HIGH_MM - 0.7, 5.0, 2.8)
    write(box.sheet, box.another(place), box.hand, at_mm, box.rng)


def inserted(box: Box) -> None:
    """A digit was put in between two, above them."""
    ink = box.line(grouped(box.article), foot_mm=_FOOT_MM + 1.8, tall_mm=_LOW_MM)
    at_mm = (ink.middle_mm(box.any_place()) + 0.2, TOP_MM + 3.4, 4.0, 2.2)
    write(box.sheet, str(box.rng.integers(10)), box.hand, at_mm, box.rng)


def struck(box: Box) -> None:
    """The whole number was struck out by one stroke."""
    ink = box.line(grouped(box.article))
    y_mm = _FOOT_MM - 1.8 + box.rng.normal(0, 0.3, 2)
    box.stroke((ink.left_mm - 0.5, y_mm[0]), (ink.right_mm + 0.5, y_mm[1]))


def group_struck(box: Box) -> None:
    """One printed group was struck out."""
    group = int(box.rng.integers(0, 5))
    ink = box.line(grouped(box.article))
    left, right = ink.middle_mm(4 * group) - 1.0, ink.middle_mm(4 * group + 3) + 1.0
    box.stroke((left, _FOOT_MM - 1.5), (right, _FOOT_MM - 2.0))


def two_numbers(box: Box) -> None:
    """Another number is written above or below it."""
    both = [grouped(box.article), grouped(number(box.rng))]
    if box.rng.random() < 0.5:
        both.reverse()
    box.line(both[0], foot_mm=TOP_MM + 4.6, tall_mm=3.2)
    box.line(both[1], foot_mm=TOP_MM + HIGH_MM - 1.0, tall_mm=3.2)


KINDS: dict[str, Callable[[Box], None]] = {
    kind.__name__: kind
    for kind in (
        plain, overwritten, overwritten_boldly, slashed, scribbled, left_out, pasted_over,
        corrected_below, inserted, struck, group_struck, two_numbers,
    )
}  # fmt: skip


def number(rng: np.random.Generator) -> str:
    """An article number, invented."""
    front = f"95890733614{''.join(map(str, rng.integers(0, 10, 10)))}"
    return front + mod10(front)


def card(kind: str, seed: int) -> tuple[str, bytes]:
    """The article number that was on the label, and a photo of the card."""
    rng = np.random.default_rng([seed, *kind.encode()])
    article, hand = number(rng), list(HANDS.values())[int(rng.integers(len(HANDS)))]
    piece = Piece(name="0001", purpose="", addressee="Corin Thackmire", article=article, card=CARD,
                  box_by=BoxBy.EMPTY)  # fmt: skip
    sheet = card_sheet(piece, rng)
    KINDS[kind](Box(sheet=sheet, hand=hand, article=article, rng=rng))
    shot = Shot(
        px_per_mm=float(rng.uniform(8, 12)), turn_deg=float(rng.uniform(-3, 3)), tilt=0.004,
        blur_px=float(rng.uniform(0.5, 1.0)), light=1.0, falloff=0.1, noise=2.0, has_shadow=False,
        quality=88,
    )  # fmt: skip
    placed = Placed(sheet=sheet, x_mm=100.0, y_mm=50.0)
    return article, photograph((placed,), size_mm=(200.0, 100.0), shot=shot, table=0, rng=rng)


def verdict(article: str, photo: bytes, folder: Path) -> Verdict:
    """What comes of the card beside its label."""
    path = folder / "card.jpg"
    path.write_bytes(photo)
    (frame,) = read_photo(Photo(path=path, shows=Side.CARD)).frames
    known = identify(article)
    assert isinstance(known, TrackingNumber)
    label = Reading(side=Side.LABEL, how=How.BARCODE, number=known, source="label")
    weighed = weigh(
        frame.seen, frame.readings, article=known, card=CARD, others={}, thresholds=thresholds()
    )
    readings = (label, *frame.readings, *weighed.readings)
    return judge(readings, found=(*frame.found, *weighed.findings)).verdict


def main() -> None:
    """Print how each kind comes out."""
    parser = argparse.ArgumentParser(prog="spoiled")
    parser.add_argument("many", type=int)
    parser.add_argument("kinds", nargs="*", choices=[*KINDS, []])
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="counterfoil-") as folder:
        for kind in given.kinds or KINDS:
            found = {seed: verdict(*card(kind, seed), Path(folder)) for seed in range(given.many)}
            counts = Counter(found.values())
            agree = [seed for seed, one in found.items() if one is Verdict.AGREES]
            shown = ", ".join(f"{counts[one]} {one.value}" for one in Verdict)
            print(
                f"{kind:20} {shown}" + (f"; agree: {agree}" if kind != "plain" else ""), flush=True
            )


if __name__ == "__main__":
    main()

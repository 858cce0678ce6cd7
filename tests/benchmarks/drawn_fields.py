"""The other fields of drawn cards, filled in or left empty, with what is true of each.

The designs are those of `designs`; the fields are their ruled cells and their check boxes. All
of it is invented.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.demo.hand import HANDS
from pairing.demo.paper import write
from pairing.demo.sheet import PX_PER_MM, SANS, Type
from pairing.photos.barcodes.symbols import read_symbols
from pairing.photos.forms.definition import Form
from pairing.photos.forms.learning import Marked, learned
from tests.benchmarks.blank_cards import blank
from tests.benchmarks.card_photos import corners, photographed
from tests.benchmarks.designs import COMB_CELLS, INK_BLACK, Design, Rect
from tests.benchmarks.drawn_cards import Filled, article_number, card_number

KEYS = {"address": "addressee", "signature": "signature", "name": "printed-name", "date": "date"}
MARKS = ("cross", "tick", "filled", "half")
BOX_MM = 2.6
_CAPTION = 0.06
"""Of the place, ink's share of it: a short line of small print."""


def places(design: Design) -> dict[str, Rect]:
    """The fields of a design, by name."""
    found = {KEYS[key]: rect for rect, key in design.fields if key in KEYS}
    if design.checks:
        for at, service in enumerate(design.words.services):
            x, y = design.checks[0] + at // 3 * 26, design.checks[1] + at % 3 * 6.5
            found[f"service {service}"] = (x, y, BOX_MM, BOX_MM)
    return found


def taught_with_fields(design: Design, level: str = "phone", seed: int = 0) -> Form:
    """The design's form with its fields, learned from one photo of the empty card."""
    rng = np.random.default_rng([seed, *design.name.encode(), 78])
    sheet = blank(design, card_number(rng) if design.bars else "")
    jpeg, to_photo = photographed(sheet, level, rng)
    photo = gray_of(jpeg)
    found = read_symbols(photo).symbols if design.bars else ()

    def at(rect: Rect) -> NDArray[np.float64]:
        return np.array(corners(to_photo, rect))

    marked = Marked(
        corners=at((0.0, 0.0, *design.size)),
        box=at(design.box),
        size_mm=design.size,
        kind=design.box_kind,
        cells=COMB_CELLS if design.box_kind == "comb" else 0,
        fields=tuple((name, at(rect)) for name, rect in places(design).items()),
    )
    return learned(design.name, [photo], marked, bars=found[0].quad if found else None)


def gray_of(jpeg: bytes) -> NDArray[np.uint8]:
    """A JPEG as a gray picture."""
    photo = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert photo is not None
    return np.asarray(photo, np.uint8)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A filled card: field to whether it is filled. services: what is true of the boxes: one,
    none, two, between or corrected. has_sign_beside: the signature is beside its field."""

    card: Filled
    truth: dict[str, bool]
    services: str
    has_sign_beside: bool = False


def drawn(
    design: Design,
    rng: np.random.Generator,
    *,
    services: str = "",
    filled: float = 0.5,
    sign_beside: bool = False,
    sign_in: str = "",
) -> Drawn:
    """A card of the design, each field filled with that probability. services: as in `Drawn`, by
    default chosen: mostly one. sign_in: the field into which the signature slipped; its own is
    left empty."""
    hand = list(HANDS.values())[int(rng.integers(len(HANDS)))]
    card = Filled(
        sheet=blank(design, card_number(rng) if design.bars else ""), design=design, hand=hand,
        article=article_number(rng), card="", rng=rng,
    )  # fmt: skip
    card.line(card.article)  # the number's box is written in, as it always is
    known = places(design)
    beside = place_beside(design) if sign_beside else None
    left_empty = ("signature", "printed-name") if beside else ()
    truth = {}
    for name, rect in known.items():
        if not name.startswith("service"):
            truth[name] = bool(rng.random() < filled) and name not in left_empty
            if sign_in:
                truth[name] = name == sign_in or (truth[name] and name != "signature")
            if truth[name]:
                _fill(card, "signature" if name == sign_in else name, rect)
    boxes = {name: rect for name, rect in known.items() if name.startswith("service")}
    what = services or str(
        rng.choice(["one", "none", "two", "between", "corrected"], p=[0.6, 0.1, 0.1, 0.1, 0.1])
    )
    if boxes:
        truth |= _mark(card, boxes, what)
    if beside is not None:
        signature(card, beside)
    what = what if boxes else ""
    return Drawn(card=card, truth=truth, services=what, has_sign_beside=beside is not None)


def signature(card: Filled, rect: Rect) -> None:
    """A signature: loops from left to right."""
    left, top, wide, high = rect
    rng = card.rng
    long = float(rng.uniform(0.35, 0.7)) * wide
    tall = float(rng.uniform(0.22, 0.4)) * high
    x0, y0 = left + rng.uniform(0.12, 0.25) * wide, top + rng.uniform(0.55, 0.7) * high
    t = np.linspace(0, 1, 140)
    turns = float(rng.uniform(5, 10)) * 2 * np.pi
    xs = x0 + t * long + 0.12 * tall * np.sin(turns * t)
    ys = y0 + tall * np.cos(turns * t + rng.uniform(0, 6)) * (0.4 + 0.6 * rng.random(140).mean())
    ys += np.interp(t, np.linspace(0, 1, 6), rng.normal(0, 0.12 * tall, 6))
    pen = float(rng.uniform(0.25, 0.6))
    card.stroke(*zip(xs.tolist(), ys.tolist(), strict=True), pen=pen)


def _fill(card: Filled, name: str, rect: Rect) -> None:
    left, top, wide, high = rect
    rng = card.rng
    if name == "signature":
        signature(card, rect)
        return
    texts = {
        "date": [f"{rng.integers(1, 29)}/{rng.integers(1, 13)}/26"],
        "printed-name": ["C Thackmire"],
        "addressee": ["Isaura Penbrook", f"{rng.integers(1, 999)} Gannet Row"],
    }[name]
    tall = min(3.4, 0.3 * high)
    for at, text in enumerate(texts):
        foot = top + 0.66 * high + at * 5.0 - (len(texts) - 1) * 2.5
        x = left + float(rng.uniform(0.08, 0.3)) * wide
        if rng.random() < 0.3:
            size = float(rng.uniform(2.6, 3.6))
            kind = Type(size_mm=min(size, tall + 0.6), color=INK_BLACK, face=SANS)
            card.sheet.text(x, foot, text, kind)
        else:
            write(card.sheet, text, card.hand, (x, foot, wide * 0.6, tall), rng)


def _mark(card: Filled, boxes: dict[str, Rect], what: str) -> dict[str, bool]:
    names = list(boxes)
    first, second = (int(at) for at in card.rng.permutation(len(names))[:2])
    truth = dict.fromkeys(names, False)
    if what == "none":
        return truth
    truth[names[first]] = True
    if what == "between":
        # The boxes of a column are 6.5 mm apart: one stroke through two of them.
        at = first if first % 3 < 2 else first - 1
        (x, y, _, _), (_, below, _, _) = boxes[names[at]], boxes[names[at + 1]]
        card.stroke((x + 2.2, y + 0.4), (x + 1.0, (y + below) / 2), (x + 0.8, below + 2.2), pen=0.5)
        return dict.fromkeys(names, False) | {names[at]: True, names[at + 1]: True}
    mark(card, boxes[names[first]], str(card.rng.choice(MARKS)))
    if what == "two":
        truth[names[second]] = True
        mark(card, boxes[names[second]], str(card.rng.choice(("cross", "tick", "half"))))
    if what == "corrected":
        truth[names[second]] = True
        _blot(card, boxes[names[second]])
    return truth


def mark(card: Filled, rect: Rect, kind: str) -> None:
    """A mark in a check box: cross, tick, filled, or half outside."""
    x, y, wide, high = rect
    rng = card.rng
    pen = float(rng.uniform(0.3, 0.6))
    if kind == "filled":
        rows = np.linspace(y + 0.4, y + high - 0.4, 7)
        points = [(x + (0.4 if at % 2 else wide - 0.4), row) for at, row in enumerate(rows)]
        card.stroke(*points, pen=0.5)
        return
    dx, dy = (0.9, -0.6) if kind == "half" else (0.0, 0.0)
    dx, dy = dx + rng.normal(0, 0.15), dy + rng.normal(0, 0.15)
    if kind == "tick":
        card.stroke((x + 0.3 + dx, y + 1.4 + dy), (x + 1.0 + dx, y + 2.4 + dy),
                    (x + 3.0 + dx, y - 0.6 + dy), pen=pen)  # fmt: skip
        return
    card.stroke((x + 0.2 + dx, y + 0.2 + dy), (x + 2.4 + dx, y + 2.5 + dy), pen=pen)
    card.stroke((x + 2.4 + dx, y + 0.1 + dy), (x + 0.2 + dx, y + 2.4 + dy), pen=pen)


def _blot(card: Filled, rect: Rect) -> None:
    x, y, wide, high = rect
    rows = np.linspace(y - 0.2, y + high + 0.2, 12)
    points = [(x + (-0.3 if at % 2 else wide + 0.3), float(row)) for at, row in enumerate(rows)]
    card.stroke(*points, pen=0.6)


def place_beside(design: Design) -> Rect | None:
    """Where a signature goes that is not in its field: below or above it, on open paper and in no
    other field, where nobody could tell it from what belongs there. None where there is no such
    place."""
    left, top, wide, high = own = places(design)["signature"]
    others = [rect for rect, _ in design.fields if rect != own]
    others += [rect for rect in places(design).values() if rect != own]
    for y in (top + high + 1.5, top - 11.5):
        place = (left, y, wide, 10.0)
        is_on_card = 1.0 <= y <= design.size[1] - 11.0
        is_free = not any(_overlap(place, one) for one in (*others, design.box))
        if is_on_card and is_free and _is_open(design, place):
            return place
    return None


def _is_open(design: Design, place: Rect) -> bool:
    """Whether there is hardly any print: a caption at most."""
    light = blank(design, "9" * 22 if design.bars else "").pixels.mean(2)
    x, y, wide, high = (round(PX_PER_MM * one) for one in place)
    return bool((light[y : y + high, x : x + wide] < 0.8 * np.median(light)).mean() < _CAPTION)


def _overlap(one: Rect, other: Rect) -> bool:
    (x, y, wide, high), (u, v, broad, tall) = one, other
    return x < u + broad and u < x + wide and y < v + tall and v < y + high

"""Forms taught as a user would teach them, and verdicts on photos of cards of those designs."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from pairing.errors import CounterfoilError
from pairing.judge import judge, weigh
from pairing.model import How, Reading, Side, TrackingNumber, Verdict
from pairing.numbers import identify
from pairing.photos.barcodes.symbols import read_symbols
from pairing.photos.forms import folder
from pairing.photos.forms.definition import PX_PER_MM
from pairing.photos.forms.learning import Marked, learned
from pairing.photos.forms.proposed_box import proposed_box
from pairing.photos.forms.shared_print import shared_print, without_strays
from pairing.photos.written import thresholds
from pairing.photos.written.plane import rectangle
from pairing.pieces.photo_groups import Photo
from pairing.pieces.reading import read_photo
from tests.benchmarks.blank_cards import blank
from tests.benchmarks.card_photos import taught
from tests.benchmarks.designs import COMB_CELLS, Design


def teach(designs: Sequence[Design], place: Path) -> None:
    """Teach each design from one phone photo of an empty card; the forms go to `place`."""
    os.environ[folder.VARIABLE] = os.fspath(place)
    for design in designs:
        jpeg, flat = taught(design)
        photo = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
        assert photo is not None
        corners = np.array(flat).reshape(8, 2)
        found = read_symbols(np.asarray(photo, np.uint8)).symbols if design.bars else ()
        marked = Marked(
            corners=corners[:4],
            box=corners[4:],
            size_mm=design.size,
            kind=design.box_kind,
            cells=COMB_CELLS if design.box_kind == "comb" else 0,
        )
        bars = found[0].quad if found else None
        folder.save(learned(design.name, [np.asarray(photo, np.uint8)], marked, bars=bars))


def teach_filled(design: Design, photos: Sequence[bytes], corners: np.ndarray) -> Learned:
    """Teach a design from filled cards; what was proposed, and what of numbers stayed. corners:
    the first card's, and after them those of its box, (8, 2) px; the form goes to the folder."""
    grays = [cv2.imdecode(np.frombuffer(one, np.uint8), cv2.IMREAD_GRAYSCALE) for one in photos]
    pictures = [np.asarray(one, np.uint8) for one in grays]
    own = [one for one in read_symbols(pictures[0]).symbols if one.text.startswith("9590")]
    shared = shared_print(
        pictures, corners[:4], design.size, own[0].quad if design.bars and own else None
    )
    found = proposed_box(shared.picture, shared.bars, shared.corners, design.size)
    box = PX_PER_MM * rectangle(*design.box)
    marked = Marked(
        corners=shared.corners,
        box=box,
        size_mm=design.size,
        kind=design.box_kind,
        cells=COMB_CELLS if design.box_kind == "comb" else 0,
    )
    form = without_strays(learned(design.name, [shared.picture], marked, bars=shared.bars))
    folder.save(form)
    off = None if found is None else float(np.abs(found.corners - box).max() / PX_PER_MM)
    return Learned(cards=shared.cards, off_mm=off, stray_mm=_stray_mm(design, form.picture))


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """cards: so many were laid over one another. off_mm: how far a corner of the proposed box is
    from where it was drawn; None where none was proposed. stray_mm: how long the longest mark is
    that the form has in its box and the empty card has not; 0 for none."""

    cards: int
    off_mm: float | None
    stray_mm: float


def _stray_mm(design: Design, picture: np.ndarray) -> float:
    sheet = blank(design, "").pixels.mean(axis=2).astype(np.uint8)
    flat = cv2.resize(sheet, picture.shape[::-1], interpolation=cv2.INTER_AREA)
    near = cv2.dilate((flat < flat.max() - 12).astype(np.uint8), np.ones((7, 7), np.uint8))
    left, top, wide, high = design.box
    a, b, c, d = (round(v * PX_PER_MM) for v in (left, top, left + wide, top + high))
    own = ((picture < 202) & (near == 0))[b:d, a:c].astype(np.uint8)
    _, _, stats, _ = cv2.connectedComponentsWithStats(own)
    return float(max((max(one[2], one[3]) for one in stats[1:]), default=0) / PX_PER_MM)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What came of one card beside its label. read: the box's text, "" where it was not read.
    codes: the findings about the box."""

    verdict: Verdict
    read: str
    codes: tuple[str, ...]


def outcome(jpeg: bytes, article: str, card: str, place: Path) -> Outcome:
    """The verdict on a photo of a card beside a label of that article number. card: its own
    number; "" for a card without, whose number counts as keyed."""
    path = place / "card.jpg"
    path.write_bytes(jpeg)
    try:
        (frame,) = read_photo(Photo(path=path, shows=Side.CARD)).frames
    except CounterfoilError as error:
        return Outcome(verdict=Verdict.UNREAD, read="", codes=(f"box: {error}",))
    number = identify(article)
    assert isinstance(number, TrackingNumber)
    readings = [Reading(side=Side.LABEL, how=How.BARCODE, number=number, source="label")]
    if not card:
        own = identify("9590948231076137543417")
        readings.append(Reading(side=Side.CARD, how=How.KEYED, number=own, source="keyed"))
    readings += frame.readings
    weighed = weigh(
        frame.seen, readings, article=number, card=card or None, others={}, thresholds=thresholds()
    )
    judged = judge([*readings, *weighed.readings], found=(*frame.found, *weighed.findings))
    codes = tuple(
        str(one.code) for one in judged.findings if str(one.code).startswith(("box", "form"))
    )
    return Outcome(verdict=judged.verdict, read=judged.written or "", codes=codes)

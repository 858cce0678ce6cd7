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
from pairing.photos.forms.learning import Marked, learned
from pairing.photos.written import thresholds
from pairing.pieces.photo_groups import Photo
from pairing.pieces.reading import read_photo
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

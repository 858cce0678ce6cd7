"""A card of no known form, read; checked against what was drawn there."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from pairing.judge.box import Unread
from pairing.photos.barcodes.symbols import read_symbols
from pairing.photos.written import shared_reader
from pairing.photos.written.box import BoxReading
from pairing.photos.written.unknown_card import read_unknown
from tests.benchmarks.card_photos import photographed
from tests.benchmarks.designs import DESIGNS, Design
from tests.benchmarks.drawn_cards import card_to_fill, fill_in

GRID, FREE = DESIGNS["grid"], DESIGNS["no-frame"]
ABOVE = replace(FREE, name="above", box=(8.0, 34.0, 80.0, 11.0), bars=(10.0, 54.0, 0, 0.33, 10.0))
UPRIGHT = replace(
    FREE, name="upright", box=(24.0, 50.0, 66.0, 13.0), bars=(4.0, 16.0, 90, 0.33, 11.0),
    address=(26.0, 22.0),
)  # fmt: skip


def read(design: Design, *, second: bool = False) -> tuple[BoxReading, str]:
    rng = np.random.default_rng(4)
    card = card_to_fill(design, rng)
    fill_in(card, "strip_text")
    if second:
        left, top, *_ = design.fields[0][0]
        other = replace(design, box=(left + 1.0, top + 1.0, *design.box[2:]))
        card.design = other
        fill_in(card, "strip_text")
    jpeg, _ = photographed(card.sheet, "clean", rng)
    photo = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
    gray = np.asarray(photo, np.uint8)
    (own,) = (one for one in read_symbols(gray).symbols if one.text == card.card)
    return read_unknown(gray, own.quad, card.card, shared_reader()), card.article


@pytest.mark.parametrize("design", [GRID, ABOVE, UPRIGHT], ids=lambda one: one.name)
def test_a_strip_is_read_wherever_it_is(design: Design) -> None:
    """In a cell with words above and below it, on paper above the bars, beside upright bars."""
    reading, article = read(design)
    assert reading.line is not None
    assert reading.line.best == article


def test_two_strips_leave_it_unread() -> None:
    reading, _ = read(GRID, second=True)
    assert reading.line is None
    assert reading.reason is Unread.FORM_UNKNOWN

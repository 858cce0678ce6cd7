"""A number of which another pen wrote a digit, on cards of a taught form and of none."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pairing.demo.hand import BALLPOINT_BLUE, HANDS
from pairing.demo.paper import grouped
from pairing.demo.sheet import PX_PER_MM, Color
from pairing.model import Verdict
from pairing.photos.forms import folder
from tests.benchmarks.designs import DESIGNS
from tests.benchmarks.drawn_cards import Filled, card_to_fill, digit_at
from tests.benchmarks.taught import outcome, teach
from tests.forms.small_photos import photographed

GRID = DESIGNS["grid"]
BROWN = (96, 46, 14)
"""As bright as the blue of the pen (ITU-R BT.601's weights), so that it is only a color."""


@pytest.fixture(params=["taught", "unknown"])
def office(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Path]:
    before = os.environ[folder.VARIABLE]
    teach([GRID] if request.param == "taught" else [], tmp_path)
    yield tmp_path
    os.environ[folder.VARIABLE] = before


def recolored(card: Filled, left_mm: float, right_mm: float, ink: Color) -> None:
    """What is written there is in another ink, stroke for stroke."""
    _, top, _, high = card.writing
    part = (slice(round(top * PX_PER_MM), round((top + high) * PX_PER_MM)),
            slice(round(left_mm * PX_PER_MM), round(right_mm * PX_PER_MM)))  # fmt: skip
    pixels = card.sheet.pixels
    paper = np.array(card.design.stock, np.float32)
    inked = (paper - pixels[part]).sum(2) / float((paper - card.hand.ink).sum())
    share = np.clip(inked, 0, 1)[:, :, None]
    pixels[part] = paper * (1 - share) + np.array(ink, np.float32) * share
    card.sheet.replace(pixels)


@pytest.mark.parametrize("is_changed", [False, True])
def test_a_digit_in_another_ink_leaves_the_box_unread(office: Path, is_changed: bool) -> None:
    card = card_to_fill(GRID, np.random.default_rng(8))
    card.hand = replace(HANDS["architects"], ink=BALLPOINT_BLUE)
    ink = card.line(grouped(card.article))
    if is_changed:
        x, half = digit_at(card, ink, 9), 0.5 * (digit_at(card, ink, 1) - digit_at(card, ink, 0))
        recolored(card, x - half, x + half, BROWN)
    jpeg, _ = photographed(card.sheet, "phone", card.rng)
    what = outcome(jpeg, card.article, card.card, office)
    assert what.verdict is (Verdict.UNREAD if is_changed else Verdict.AGREES)
    assert ("box-struck-out" in what.codes) is is_changed

"""The finder proposes the number's line on a card of no known form, and refuses altered ones.

Cards are drawn by `tests/benchmarks` in designs and hands that the networks were not shown.
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from pairing.errors import CounterfoilError
from pairing.photos.finder import number_lines
from pairing.photos.finder.number_lines import proposals
from pairing.photos.finder.segmentation import STRIDE, Segmenter, far, near
from pairing.photos.written.proposed_line import is_altered, proposed_region
from tests.benchmarks.alterations import altered_card
from tests.benchmarks.blank_cards import blank
from tests.benchmarks.card_photos import photographed
from tests.benchmarks.designs import DESIGNS
from tests.benchmarks.drawn_cards import Filled
from tests.benchmarks.forms import card_of

Gray = NDArray[np.uint8]


def photo_of(card: Filled) -> tuple[Gray, NDArray[np.float64]]:
    jpeg, to_photo = photographed(card.sheet, "clean", card.rng)
    photo = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
    return np.asarray(photo, np.uint8), to_photo


@pytest.mark.parametrize("network", [far, near])
def test_scores_are_half_as_large_as_the_picture(network: object) -> None:
    scores = network().look(np.full((96, 160), 200, np.uint8))  # type: ignore[operator]
    assert scores.kinds.shape == scores.number.shape == scores.altered.shape
    assert scores.kinds.shape == (96 // STRIDE, 160 // STRIDE)
    assert scores.facing.shape == (2, 96 // STRIDE, 160 // STRIDE)


def test_the_line_proposed_is_where_the_number_was_written() -> None:
    card, _, _ = card_of(DESIGNS["no-bars"], "clean", 3000)
    photo, to_photo = photo_of(card)
    (line,) = proposals(photo, None)
    left, top, wide, high = card.ink[-1]
    middle = np.array([[[left + wide / 2, top + high / 2]]])
    x, y = cv2.perspectiveTransform(middle, to_photo)[0, 0]
    around = line.corners.astype(np.float32).reshape(-1, 1, 2)
    assert cv2.pointPolygonTest(around, (float(x), float(y)), measureDist=False) >= 0
    assert not is_altered(proposed_region(photo, line), line, is_sure=False)


def test_a_card_is_looked_at_to_its_end_from_bars_that_stand_at_the_other_one() -> None:
    photo, px_per_mm = np.full((900, 1950), 200, np.uint8), 10.0
    bars = np.array([(150.0, 150), (150, 670), (40, 670), (40, 150)])
    to_small, size = number_lines._laid(photo, bars, px_per_mm)
    # Cards of 190 mm are the longest of `tests/benchmarks/drawn_designs.py`, but for combs.
    x, y = to_small @ (1750.0, 800.0, 1.0)
    assert 0 < x < size[0]
    assert 0 < y < size[1]


def test_nothing_is_proposed_on_an_empty_card() -> None:
    sheet = blank(DESIGNS["no-bars"], "")
    jpeg, _ = photographed(sheet, "clean", np.random.default_rng(5))
    photo = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert proposals(np.asarray(photo, np.uint8), None) == ()


@pytest.mark.parametrize("kind", ["whole_struck", "struck_wavy", "print_struck"])
def test_a_number_that_was_struck_out_is_altered_to_it(kind: str) -> None:
    photo, _ = photo_of(altered_card(kind, "no-bars", 11))
    found = proposals(photo, None)
    # Not found is refused too.
    assert all(is_altered(proposed_region(photo, one), one, is_sure=False) for one in found)


def test_without_networks_nothing_is_proposed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(number_lines, "is_installed", lambda: False)
    assert proposals(np.zeros((300, 400), np.uint8), None) == ()


def test_a_network_that_is_not_there_is_said_with_its_place(tmp_path: Path) -> None:
    with pytest.raises(CounterfoilError, match="network could not be loaded"):
        Segmenter.load(tmp_path / "far.onnx")

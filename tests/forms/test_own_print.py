"""A card is taken for a form only where the form's own print is seen all over it."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from pairing.photos.forms import folder
from pairing.photos.forms.own_print import share_seen
from pairing.photos.forms.registration import registered
from tests.benchmarks.card_photos import photographed
from tests.benchmarks.drawn_designs import drawn
from tests.benchmarks.forms import card_of
from tests.benchmarks.taught import teach

_TAUGHT, _ALIKE = 1600, 1626
"""Two designs with one dark bar and the same words across their heads, and other cells below: a fit
of 0.81, which the darkest print carries."""


def _photo(seed: int) -> NDArray[np.uint8]:
    card, _, _ = card_of(drawn(seed), "clean", 1002)
    jpeg, _ = photographed(card.sheet, "clean", card.rng)
    opened = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
    return np.asarray(opened, np.uint8)


@pytest.fixture(scope="module")
def forms(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("forms")
    teach((drawn(_TAUGHT),), place)
    return place


def test_a_card_like_a_taught_one_in_its_heaviest_print_is_not_taken_for_it(
    forms: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(folder.VARIABLE, str(forms))
    assert registered(_photo(_ALIKE), folder.index()) is None


def test_the_taught_one_is_told_by_its_print_all_over(
    forms: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(folder.VARIABLE, str(forms))
    photo = _photo(_TAUGHT)
    match = registered(photo, folder.index())
    assert match is not None
    assert share_seen(photo, match.form, match.whole_to_photo) > 0.8
    away = match.whole_to_photo @ np.array([[1.0, 0, 4.0], [0, 1, 3.0], [0, 0, 1]])
    assert share_seen(photo, match.form, away) < 0.3

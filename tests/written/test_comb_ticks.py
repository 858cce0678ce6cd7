"""A comb's dividing lines beside a strip. Marks are invented; sizes in mm."""

from __future__ import annotations

import numpy as np

from pairing.photos.written.comb_ticks import comb_ticks
from pairing.photos.written.frame import Mark
from pairing.photos.written.plane import PX_PER_MM


def marks(*places_mm: float, high_mm: float = 1.8, slope: float = 0.02) -> list[Mark]:
    return [
        (x * PX_PER_MM, (3.0 + slope * x) * PX_PER_MM, 0.35 * PX_PER_MM, high_mm * PX_PER_MM)
        for x in places_mm
    ]


def test_marks_at_equal_distances_are_a_combs() -> None:
    comb = marks(*np.arange(5.0, 60.0, 4.7))
    word = marks(70.0, 71.4, 74.0, 75.1)
    assert comb_ticks([*word, *comb], 0.02) == comb


def test_some_of_them_may_be_covered() -> None:
    comb = marks(5.0, 9.6, 14.1, 27.9, 32.4, 37.1)
    assert comb_ticks(comb, 0.02) == comb


def test_strokes_that_a_pen_set_here_and_there_are_not() -> None:
    assert comb_ticks(marks(5.0, 9.1, 15.5, 18.9, 25.0, 29.2, 36.0), 0.02) == []


def test_four_are_too_few_tall_ones_are_digits_and_round_ones_dots() -> None:
    assert comb_ticks(marks(5.0, 9.5, 14.0, 18.5), 0.02) == []
    assert comb_ticks(marks(*np.arange(5.0, 60.0, 4.7), high_mm=4.5), 0.02) == []
    assert comb_ticks(marks(*np.arange(5.0, 60.0, 4.7), high_mm=0.4), 0.02) == []

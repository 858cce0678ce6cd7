"""A comb's dividing lines beside a strip. Marks are invented; sizes in mm."""

from __future__ import annotations

import numpy as np

from pairing.photos.written.comb_ticks import comb_lines, comb_ticks
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


def test_of_a_line_that_stands_in_its_place_less_may_show() -> None:
    """Below a strip stuck on aslant, of the first lines more shows, of the next less, then none."""
    comb = marks(*np.arange(5.0, 60.0, 4.7))
    left = marks(9.7, 19.1, high_mm=0.9)
    off = marks(12.0, high_mm=0.9)
    moved = [(x, y + 7.0 * PX_PER_MM, wide, high) for x, y, wide, high in (*left, *off)]
    assert comb_ticks([*comb, *moved], 0.02) == [*comb, *moved[:2]]


def test_strokes_that_a_pen_set_here_and_there_are_not() -> None:
    assert comb_ticks(marks(5.0, 9.1, 15.5, 18.9, 25.0, 29.2, 36.0), 0.02) == []


def test_four_are_too_few_tall_ones_are_digits_and_round_ones_dots() -> None:
    assert comb_ticks(marks(5.0, 9.5, 14.0, 18.5), 0.02) == []
    assert comb_ticks(marks(*np.arange(5.0, 60.0, 4.7), high_mm=4.5), 0.02) == []
    assert comb_ticks(marks(*np.arange(5.0, 60.0, 4.7), high_mm=0.4), 0.02) == []


def uprights(*places_mm: float) -> np.ndarray:
    drawn = np.zeros((200, 1200), np.uint8)
    for x in places_mm:
        at = round(x * PX_PER_MM)
        drawn[40:150, at - 2 : at + 2] = 255
    return drawn


def test_whole_dividing_lines_are_a_combs_and_so_is_what_of_one_a_digit_joins() -> None:
    comb = uprights(*np.arange(5.0, 60.0, 4.7))
    assert (comb_lines(comb) == comb).all()
    joined = comb.copy()
    fourth = round((5.0 + 3 * 4.7) * PX_PER_MM)
    joined[90:96, fourth - 20 : fourth + 20] = 255
    found = comb_lines(joined)
    assert found[100, fourth]
    assert not found[93, fourth - 12]


def test_ones_that_a_pen_wrote_here_and_there_divide_nothing() -> None:
    assert not comb_lines(uprights(5.0, 9.1, 15.5, 18.9, 25.0, 29.2, 36.0)).any()
    assert not comb_lines(uprights(5.0, 9.7, 14.4, 19.1)).any()

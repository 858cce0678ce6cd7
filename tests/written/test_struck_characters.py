"""A stroke through a digit that also joins the next one. Checked against what was drawn."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from pairing.photos.written.form_ink import rules_in
from pairing.photos.written.frame import Mark
from pairing.photos.written.struck_characters import is_struck_through

PITCH, TALL = 40, 44


def ink(text: str, *strokes: tuple[int, int]) -> np.ndarray:
    """Digits with level strokes from one place, px, to another."""
    drawn = np.zeros((160, 60 + PITCH * len(text)), np.uint8)
    for at, digit in enumerate(text):
        cv2.putText(drawn, digit, (40 + PITCH * at, 110), cv2.FONT_HERSHEY_SIMPLEX, 2.0, (255,), 5)
    for first, last in strokes:
        cv2.line(drawn, (first, 88), (last, 88), (255,), 5)
    return drawn


def row(text: str) -> list[Mark]:
    return [(40.0 + PITCH * at, 110.0 - TALL, 34.0, float(TALL)) for at in range(len(text))]


def middle(place: int) -> float:
    return 40.0 + PITCH * place + 19


@pytest.mark.parametrize("digit", "0123568")
def test_a_stroke_through_a_digit_into_the_next_is_found(digit: str) -> None:
    text = "46" + digit + "51"
    struck = ink(text, (int(middle(1)), int(middle(3))))
    assert is_struck_through(struck, row(text), middle(2), PITCH, is_seven=False)
    assert not is_struck_through(ink(text), row(text), middle(2), PITCH, is_seven=False)


def test_the_bar_of_a_7_is_its_own_unless_it_goes_through_the_next_digit() -> None:
    text = "35796"
    own, on = ink(text, (126, 154)), ink(text, (126, 208))
    assert not is_struck_through(own, row(text), middle(2), PITCH, is_seven=True)
    assert is_struck_through(on, row(text), middle(2), PITCH, is_seven=True)


@pytest.mark.parametrize("pen", [3, 6, 11])
def test_the_foot_of_a_2_and_the_head_of_a_5_are_their_own(pen: int) -> None:
    """Both go on past the rest of the digit, on both sides."""
    two, five = np.zeros((160, 300), np.uint8), np.zeros((160, 300), np.uint8)
    bow = [(125, 75), (140, 67), (152, 75), (150, 85), (132, 102), (122, 109)]
    for drawn, level in ((two, 109), (five, 67)):
        cv2.polylines(drawn, [np.array(bow)], False, (255,), pen)
        cv2.line(drawn, (106, level), (170, level), (255,), pen)
        assert not is_struck_through(drawn, row("12345"), middle(2), PITCH, is_seven=False)
    cv2.line(two, (86, 88), (192, 88), (255,), min(6, pen))
    assert is_struck_through(two, row("12345"), middle(2), PITCH, is_seven=False)


def test_heads_of_sevens_in_a_row_are_no_rule() -> None:
    """They are one straight line of 5 mm, which would be left out as the form's."""
    sevens = np.zeros((120, 500), np.uint8)
    cv2.line(sevens, (100, 30), (220, 30), (255,), 6)
    cv2.line(sevens, (0, 100), (499, 100), (255,), 4)
    assert rules_in(sevens)[28:33, 100:220].any()
    found = rules_in(sevens, 200)
    assert not found[:60].any()
    assert found[100, 5:495].all()

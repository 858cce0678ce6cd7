"""Dots that touch a rule under a number. Checked against what was drawn there; sizes in mm."""

from __future__ import annotations

import cv2
import numpy as np

from pairing.photos.written.dotted_rules import dots_on_rules
from pairing.photos.written.form_ink import rules_across
from pairing.photos.written.frame import Mark, ink_of
from pairing.photos.written.plane import PX_PER_MM

PAPER, INK = 190, 60
LEVEL_MM = 12.0
ROW: list[Mark] = [
    (x * PX_PER_MM, 6.0 * PX_PER_MM, 2.2 * PX_PER_MM, 4.0 * PX_PER_MM) for x in range(5, 65, 3)
]


def paper(*dots_mm: float, below_mm: float = 0.3, wide_mm: float = 0.55) -> np.ndarray:
    """A rule with dots whose middles lie so far below its own, drawn eight times as large."""
    fine = 8
    gray = np.full((200 * fine, 900 * fine), PAPER, np.uint8)
    level = round(LEVEL_MM * PX_PER_MM * fine)
    cv2.line(gray, (30, level), (880 * fine, level), (INK,), round(0.35 * PX_PER_MM * fine))
    for x in dots_mm:
        at = round(x * PX_PER_MM * fine), level + round(below_mm * PX_PER_MM * fine)
        cv2.circle(gray, at, round(wide_mm / 2 * PX_PER_MM * fine), (INK,), -1)
    soft = cv2.resize(gray, None, fx=1 / fine, fy=1 / fine, interpolation=cv2.INTER_AREA)
    noisy = soft + np.random.default_rng(3).normal(0, 2, soft.shape)
    return np.asarray(np.clip(cv2.GaussianBlur(noisy, (0, 0), 1.2), 0, 255), np.uint8)


def dots(gray: np.ndarray, own: np.ndarray | None = None) -> list[Mark]:
    own = np.zeros(gray.shape, np.bool_) if own is None else own
    return dots_on_rules(gray, rules_across(ink_of(gray)), ROW, own)


def test_dots_under_a_group_that_touch_the_rule_are_found() -> None:
    found = dots(paper(18.0, 21.2, 24.1, 27.5))
    assert [round(x / PX_PER_MM) for x, *_ in found] == [18, 21, 24, 27]


def test_a_bare_rule_has_none_and_two_are_too_few() -> None:
    assert dots(paper()) == []
    assert dots(paper(18.0, 21.0)) == []


def test_what_crosses_the_rule_is_no_dot() -> None:
    """Feet of digits go through it."""
    gray = paper()
    for x in (18.0, 21.1, 24.3, 27.2):
        at = round(x * PX_PER_MM)
        cv2.line(gray, (at, 100), (at, 155), (INK,), 5)
    assert dots(gray) == []


def test_feet_of_characters_that_stand_on_the_rule_are_none() -> None:
    """The curves of a 6, a 2 and a 0: each goes on upwards in a character of the line."""
    gray, own = paper(18.0, 21.2, 24.1, 27.5, below_mm=-0.3), np.zeros((200, 900), np.bool_)
    for x in (18.0, 21.2, 24.1, 27.5):
        at, wide = round(x * PX_PER_MM), round(0.25 * PX_PER_MM)
        own[round(8.0 * PX_PER_MM) : round((LEVEL_MM - 0.4) * PX_PER_MM), at - wide : at] = True
    assert len(dots(gray)) == 4
    assert dots(gray, own) == []


def test_dots_beyond_the_rule_are_none_of_a_characters() -> None:
    """What sticks out away from the number is told by no character above the rule."""
    gray, own = paper(18.0, 21.2, 24.1, 27.5), np.zeros((200, 900), np.bool_)
    own[: round(LEVEL_MM * PX_PER_MM) - 3] = True
    assert len(dots(gray, own)) == 4


def test_a_combs_dividing_lines_are_none() -> None:
    """They stand at equal distances all along the rule."""
    assert dots(paper(*np.arange(8.0, 60.0, 4.4), below_mm=0.2)) == []

"""The form's own ink is left out, and what was written over it stays whole. Pictures drawn here."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from pairing.demo.sheet import BOLD, load_font
from pairing.photos.written.form_ink import hidden_ink, rules_across, rules_in, seen_rules
from pairing.photos.written.plane import PX_PER_MM, rectangle

HIGH, WIDE = round(14 * PX_PER_MM), round(40 * PX_PER_MM)
RULE_Y = round(8 * PX_PER_MM)
BOX = rectangle(2.0, 2.0, WIDE - 4.0, HIGH - 4.0)


def paper(*strokes_mm: tuple[float, float, float, float]) -> NDArray[np.uint8]:
    """A rule from side to side, and strokes from (x, y) to (x, y)."""
    gray = np.full((HIGH, WIDE), 225, np.uint8)
    cv2.line(gray, (0, RULE_Y), (WIDE, RULE_Y), (60,), 4)
    for x0, y0, x1, y1 in strokes_mm:
        ends = [(round(x * PX_PER_MM), round(y * PX_PER_MM)) for x, y in ((x0, y0), (x1, y1))]
        cv2.line(gray, ends[0], ends[1], (50,), 6, cv2.LINE_AA)
    return np.asarray(cv2.GaussianBlur(gray, (0, 0), 1.2), np.uint8)


def printed() -> NDArray[np.uint8]:
    form = np.zeros((HIGH, WIDE), np.uint8)
    cv2.line(form, (0, RULE_Y), (WIDE, RULE_Y), (255,), 4)
    return form


@pytest.mark.parametrize("lean_mm", [0.0, 1.5, -2.0])
def test_a_stroke_across_a_rule_stays_in_one_piece(lean_mm: float) -> None:
    gray = paper((20.0 + lean_mm, 4.0, 20.0 - lean_mm, 12.0))
    hidden = hidden_ink(gray, printed(), None, BOX) > 0
    assert hidden[RULE_Y, : round(10 * PX_PER_MM)].all()
    ink = np.where((gray < 140) & ~hidden, np.uint8(255), np.uint8(0))
    _, _, stats, _ = cv2.connectedComponentsWithStats(ink)
    assert stats[1:, 3].max() > 7 * PX_PER_MM


def test_a_stroke_that_ends_at_a_rule_loses_no_more_than_the_rule() -> None:
    gray = paper((20.0, 4.0, 20.0, 8.0))
    hidden = hidden_ink(gray, printed(), None, BOX) > 0
    x = round(20.0 * PX_PER_MM)
    assert not hidden[: RULE_Y - round(0.4 * PX_PER_MM), x].any()


def test_a_stroke_along_a_rule_of_the_form_is_not_the_rule() -> None:
    """One that runs 1 mm above it strikes something out."""
    gray = paper((5.0, 7.0, 35.0, 7.0))
    hidden = hidden_ink(gray, printed(), None, BOX) > 0
    assert not hidden[RULE_Y - round(1.0 * PX_PER_MM)].any()


def test_rules_are_long() -> None:
    ink = np.where(paper((20.0, 4.0, 20.0, 7.0)) < 140, np.uint8(255), np.uint8(0))
    found = rules_in(ink)
    assert found[RULE_Y].all()
    assert not found[: RULE_Y - 14].any()


def test_pale_rules_are_left_out_beside_the_marks_of_a_bold_pen() -> None:
    """As soon as the darkest marks are left out the rules would count as ink."""
    gray = np.full((HIGH, WIDE), 225, np.uint8)
    cv2.line(gray, (0, RULE_Y), (WIDE, RULE_Y), (160,), 4)
    for x in range(40, WIDE - 40, 45):
        cv2.line(gray, (x, 20), (x + 12, RULE_Y - 30), (20,), 9, cv2.LINE_AA)
    soft = np.asarray(cv2.GaussianBlur(gray, (0, 0), 1.2), np.uint8)
    hidden = hidden_ink(soft, printed(), None, BOX)
    assert (hidden[RULE_Y] > 0).all()


def test_letters_that_run_together_are_no_rule() -> None:
    """Bold letters in a blurred photo: what is level in them goes on from one to the next."""
    gray = paper()
    font = load_font(BOLD, round(2.6 * PX_PER_MM))
    drawn = Image.fromarray(gray)
    ImageDraw.Draw(drawn).text((60, round(2 * PX_PER_MM)), "RETURN RECEIPT", fill=60, font=font)
    soft = np.asarray(cv2.GaussianBlur(np.asarray(drawn), (0, 0), 5.0), np.uint8)
    form = np.where(soft < 195, np.uint8(255), np.uint8(0))
    words = slice(round(1.5 * PX_PER_MM), round(5 * PX_PER_MM))
    assert rules_across(form)[words].any()
    across, _ = seen_rules(soft, form)
    assert not across[words].any()
    assert (across[RULE_Y - 3 : RULE_Y + 4] > 0).any(0).mean() > 0.95

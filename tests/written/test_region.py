"""Marks in a box whose place is known: the form's, a strip's, or somebody's.

Checked against what was drawn there.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from pairing.photos.written.frame import Mark
from pairing.photos.written.ink_rows import is_flag
from pairing.photos.written.plane import PX_PER_MM, Plane, rectangle
from pairing.photos.written.region import Content, Region, content_of
from pairing.photos.written.region_line import is_ruled_through

PAPER, PRINT, PEN = 190, 60, 50
HIGH, WIDE = 330, 1050
BOX = rectangle(60.0, 60.0, 930.0, 180.0)


def mm(value: float) -> int:
    return round(value * PX_PER_MM)


def paper() -> np.ndarray:
    return np.full((HIGH, WIDE), PAPER, np.uint8)


def number(gray: np.ndarray, foot: int) -> None:
    for at in range(20):
        where = (100 + 38 * at, foot)
        cv2.putText(gray, str(at % 10), where, cv2.FONT_HERSHEY_SIMPLEX, 1.6, (PEN,), 5)


def content(gray: np.ndarray, printed: np.ndarray, own: np.ndarray | None = None) -> Content:
    soft = np.asarray(cv2.GaussianBlur(gray, (0, 0), 1.0), np.uint8)
    plane = Plane(gray=soft, to_photo=np.eye(3), scale=1.0)
    return content_of(Region(plane=plane, box=BOX, printed=printed, own=own))


def test_a_rule_close_to_the_cards_own_bars_is_the_forms() -> None:
    """The number stands on it."""
    gray, printed, own = paper(), np.zeros((HIGH, WIDE), np.uint8), np.zeros((HIGH, WIDE), np.uint8)
    number(gray, 238)
    for picture, value in ((gray, PRINT), (printed, 255)):
        cv2.line(picture, (60, 240), (990, 240), (value,), mm(0.3))
    cv2.rectangle(own, (200, 255), (800, 329), (255,), -1)
    for x in range(210, 790, 16):
        cv2.rectangle(gray, (x, 265), (x + 7, 329), (PRINT,), -1)
    found = content(gray, printed, own)
    assert len(found.rows) == 1
    assert len(found.rows[0]) == 20
    assert not found.left_over


def test_the_cards_own_bars_hide_nothing_in_the_box() -> None:
    gray, nothing = paper(), np.zeros((HIGH, WIDE), np.uint8)
    number(gray, 200)
    own = np.zeros((HIGH, WIDE), np.uint8)
    own[150:] = 255
    assert len(content(gray, nothing, own).rows[0]) == 20


def test_the_edges_of_a_strip_are_no_marks() -> None:
    """A shadow in pieces under it, and one at its end, beside which the paper is another."""
    gray, nothing = paper(), np.zeros((HIGH, WIDE), np.uint8)
    gray[120:215, 80:930] = 225
    number(gray, 190)
    for x in range(90, 900, 50):
        cv2.line(gray, (x, 216), (x + 30, 216), (130,), 2)
    cv2.line(gray, (931, 125), (931, 180), (120,), 2)
    found = content(gray, nothing)
    assert not found.left_over
    assert [len(row) for row in found.rows] == [20]


def test_a_thin_upright_stroke_on_one_paper_is_a_mark() -> None:
    """It may be a 1."""
    gray, nothing = paper(), np.zeros((HIGH, WIDE), np.uint8)
    number(gray, 190)
    cv2.line(gray, (885, 150), (885, 190), (PEN,), 3)
    assert [len(row) for row in content(gray, nothing).rows] == [21]


def test_large_digits_by_a_fine_pen_are_a_line() -> None:
    """5.5 mm high: longer than what else is thin and long."""
    gray, nothing = paper(), np.zeros((HIGH, WIDE), np.uint8)
    for at in range(13):
        where = (80 + 68 * at, 190)
        cv2.putText(gray, "17"[at % 2], where, cv2.FONT_HERSHEY_SIMPLEX, 3.1, (PEN,), 3)
    found = content(gray, nothing)
    assert not found.left_over
    assert [len(row) for row in found.rows] == [13]


def test_a_flat_thin_stroke_in_a_line_is_left_over() -> None:
    gray, nothing = paper(), np.zeros((HIGH, WIDE), np.uint8)
    number(gray, 190)
    cv2.line(gray, (858, 176), (940, 172), (PEN,), 4)
    assert len(content(gray, nothing).left_over) == 1


ROW = [(100.0 + 38 * at, 150.0, 28.0, 40.0) for at in range(16)]


@pytest.mark.parametrize(
    ("mark", "is_one"),
    [
        ((298.0, 144.0, 22.0, 8.0), True),
        ((298.0, 126.0, 22.0, 8.0), False),
        ((298.0, 168.0, 22.0, 8.0), False),
        ((298.0, 144.0, 60.0, 8.0), False),
        ((298.0, 134.0, 14.0, 22.0), False),
        ((730.0, 144.0, 22.0, 8.0), False),
    ],
    ids=["at its head", "above it", "in its middle", "wide", "high", "beside the line"],
)
def test_the_flag_of_a_five_is_at_its_head(mark: Mark, is_one: bool) -> None:
    assert is_flag(mark, ROW) is is_one


def test_the_flag_of_a_five_is_of_the_line() -> None:
    gray, nothing = paper(), np.zeros((HIGH, WIDE), np.uint8)
    number(gray, 190)
    cv2.line(gray, (302, 150), (318, 150), (PEN,), 3)
    gray[155:158, 290:330] = PAPER
    found = content(gray, nothing)
    assert not found.left_over
    assert [len(row) for row in found.rows] == [21]


def test_a_label_that_hides_the_forms_own_ink_covers_the_box() -> None:
    """Its edge lies where a rule should be seen, and is far paler than its print."""
    gray, printed = paper(), np.zeros((HIGH, WIDE), np.uint8)
    for y in (130, 270):
        cv2.line(printed, (60, y), (990, y), (255,), 7)
    bare = gray.copy()
    for y in (130, 270):
        cv2.line(bare, (60, y), (990, y), (PRINT,), 7)
    number(bare, 220)
    assert not content(bare, printed).is_covered
    number(gray, 220)
    cv2.line(gray, (60, 270), (990, 270), (PAPER - 22,), 3)
    assert content(gray, printed).is_covered


def test_dots_under_a_group_count_beyond_the_box_too() -> None:
    """The number stands at the box's lower edge, at 240."""
    gray, printed = paper(), np.zeros((HIGH, WIDE), np.uint8)
    number(gray, 225)
    assert not content(gray, printed).left_over
    for x in (264, 302, 340, 378):
        cv2.circle(gray, (x, 252), 4, (PEN,), -1)
    assert len(content(gray, printed).left_over) == 4


@pytest.mark.parametrize(("gray_level", "many"), [(PAPER - 32, 20), (PEN, 21)])
def test_the_side_of_a_strip_is_no_character_of_its_print(gray_level: int, many: int) -> None:
    """A stroke by a pen, as dark as the print, is one."""
    gray, nothing = paper(), np.zeros((HIGH, WIDE), np.uint8)
    for at in range(20):
        cv2.rectangle(gray, (100 + 30 * at, 130), (118 + 30 * at, 170), (PEN,), -1)
    cv2.line(gray, (790, 115), (790, 182), (gray_level,), 3)
    assert sum(map(len, content(gray, nothing).rows)) == many
    assert not content(gray, nothing).left_over


@pytest.mark.parametrize(("above_foot_px", "is_through"), [(0, False), (3, False), (16, True)])
def test_no_rule_of_an_unknown_form_runs_through_the_middle_of_a_number(
    above_foot_px: int, is_through: bool
) -> None:
    """From one side of the box to the other it is a stroke, though it parts the box in two."""
    gray, printed = paper(), np.zeros((HIGH, WIDE), np.uint8)
    number(gray, 200)
    (row,) = content(gray, printed).rows
    at = 200 - above_foot_px
    cv2.line(printed, (60, at), (990, at), (255,), mm(0.3))
    plane = Plane(gray=gray, to_photo=np.eye(3), scale=1.0)
    region = Region(plane=plane, box=BOX, printed=printed)
    assert is_ruled_through(region, row) is is_through


def test_joined_digits_after_a_line_are_not_dropped() -> None:
    """A thin pen's 34 whose long level stroke joins them is a thin, long mark: where two or three
    digits could be so wide they are the line's, where not they are left over."""
    gray, nothing = paper(), np.zeros((HIGH, WIDE), np.uint8)
    for at in range(16):
        where = (100 + 38 * at, 200)
        cv2.putText(gray, str(at % 10), where, cv2.FONT_HERSHEY_SIMPLEX, 1.5, (PEN,), 3)
    assert not content(gray, nothing).left_over
    pair = np.array([(740, 168), (770, 168), (752, 184), (772, 196), (740, 200), (840, 186)])
    cv2.polylines(gray, [pair], isClosed=False, color=(PEN,), thickness=3)
    cv2.line(gray, (826, 170), (818, 201), (PEN,), 3)
    found = content(gray, nothing)
    assert len(found.rows[0]) == 17
    assert not found.left_over
    cv2.line(gray, (840, 186), (875, 186), (PEN,), 3)
    found = content(gray, nothing)
    assert len(found.rows[0]) == 16
    assert len(found.left_over) == 1

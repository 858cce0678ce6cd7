"""Numbers in one ink and in two, drawn; colors of pens and of forms are invented."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from pairing.demo.hand import BALLPOINT_BLACK, BALLPOINT_BLUE, HANDS
from pairing.demo.paper import grouped
from pairing.demo.sheet import PX_PER_MM as SHEET_PX_PER_MM
from pairing.demo.sheet import Color
from pairing.photos.files import frames
from pairing.photos.written.form_ink import rules_across
from pairing.photos.written.frame import ink_of
from pairing.photos.written.inks import is_of_two_inks, is_ruled_in_own_ink
from pairing.photos.written.plane import PX_PER_MM, laid_flat, rectangle
from pairing.photos.written.region import Content, Region, content_of
from tests.benchmarks.blank_cards import blank
from tests.benchmarks.card_photos import photographed
from tests.benchmarks.corrections import digit_by
from tests.benchmarks.designs import DESIGNS, Rect
from tests.benchmarks.drawn_cards import Filled, card_to_fill, digit_at

RED, PENCIL, GREEN = (170, 34, 40), (120, 120, 122), (20, 110, 60)
_AROUND_MM = 3.0


def filled(seed: int, ink: Color, form: Color = (40, 60, 40)) -> tuple[Filled, Rect]:
    """A card with its number in that ink, and where it lies."""
    design = replace(DESIGNS["grid"], ink=form)
    card = card_to_fill(design, np.random.default_rng(seed))
    card.hand = replace(HANDS["architects"], ink=ink)
    return card, card.line(grouped(card.article))


def looked_at(card: Filled, place: Path) -> tuple[np.ndarray | None, Region, Content]:
    """The color of a phone photo of the card, and its box, of which the form's ink is known."""
    jpeg, to_photo = photographed(card.sheet, "phone", card.rng)
    path = place / "card.jpg"
    path.write_bytes(jpeg)
    (frame,) = frames(path)
    left, top, wide, high = card.design.box
    to_mm = np.diag([1 / PX_PER_MM, 1 / PX_PER_MM, 1.0])
    corner = np.array([[1.0, 0.0, left - _AROUND_MM], [0.0, 1.0, top - _AROUND_MM], [0, 0, 1.0]])
    size = (round((wide + 2 * _AROUND_MM) * PX_PER_MM), round((high + 2 * _AROUND_MM) * PX_PER_MM))
    plane = laid_flat(frame.gray, to_photo @ corner @ to_mm, size)
    empty = blank(card.design, "").pixels.mean(axis=2).astype(np.uint8)
    to_sheet = np.diag([SHEET_PX_PER_MM, SHEET_PX_PER_MM, 1.0]) @ corner @ to_mm
    form = laid_flat(empty, to_sheet, size).gray
    printed = np.where(form < form.max() - 25, np.uint8(255), np.uint8(0))
    box = rectangle(_AROUND_MM, _AROUND_MM, wide, high) * PX_PER_MM
    region = Region(plane=plane, box=box, printed=printed)
    return frame.color(), region, content_of(region)


def is_told(card: Filled, place: Path) -> bool:
    color, region, content = looked_at(card, place)
    (row,) = content.rows
    return is_of_two_inks(color, region, content, row)


@pytest.mark.parametrize("ink", [BALLPOINT_BLUE, BALLPOINT_BLACK, RED, GREEN, PENCIL])
@pytest.mark.parametrize("seed", range(3))
def test_one_ink_is_one(tmp_path: Path, seed: int, ink: Color) -> None:
    card, _ = filled(seed, ink)
    assert not is_told(card, tmp_path)


@pytest.mark.parametrize("inks", [(BALLPOINT_BLUE, BALLPOINT_BLACK), (BALLPOINT_BLACK, RED),
                                  (BALLPOINT_BLACK, BALLPOINT_BLUE), (RED, GREEN)])  # fmt: skip
@pytest.mark.parametrize("seed", range(3))
def test_a_digit_in_another_ink_is_seen(
    tmp_path: Path, seed: int, inks: tuple[Color, Color]
) -> None:
    card, ink = filled(seed, inks[0])
    at = digit_at(card, ink, 4 + 5 * seed), ink[1] + ink[3]
    digit_by(card, "8", at, 0.9 * ink[3], ink=inks[1])
    assert is_told(card, tmp_path)


def test_without_color_nothing_is_told(tmp_path: Path) -> None:
    card, ink = filled(1, BALLPOINT_BLUE)
    digit_by(card, "8", (digit_at(card, ink, 9), ink[1] + ink[3]), ink[3], ink=RED)
    _, region, content = looked_at(card, tmp_path)
    assert not is_of_two_inks(None, region, content, content.rows[0])
    gray = cv2.merge([cv2.resize(np.full((8, 8), 200, np.uint8), (600, 400))] * 3)
    assert not is_of_two_inks(np.asarray(gray, np.uint8), region, content, content.rows[0])


def test_a_pen_that_thins_is_no_second_ink(tmp_path: Path) -> None:
    """A film of ink takes light by its thickness (Bouguer and Lambert): where it is thin, blue is
    less taken still, so that the proportions change with the darkness."""
    card, ink = filled(2, BALLPOINT_BLUE)
    pixels = card.sheet.pixels
    part = (slice(round(ink[1] * 16), round((ink[1] + ink[3]) * 16)),
            slice(round(ink[0] * 16), round((ink[0] + 0.5 * ink[2]) * 16)))  # fmt: skip
    paper = np.asarray(card.design.stock, np.float32)
    pixels[part] = paper * np.clip(pixels[part] / paper, 0.01, 1.0) ** 0.55
    card.sheet.replace(pixels)
    assert not is_told(card, tmp_path)


@pytest.mark.parametrize("form", [RED, GREEN])
def test_a_rule_printed_in_color_under_strokes_is_no_second_ink(
    tmp_path: Path, form: Color
) -> None:
    design = replace(DESIGNS["grid"], ink=form, rule_mm=0.4)
    card = card_to_fill(design, np.random.default_rng(3))
    card.hand = replace(HANDS["architects"], ink=BALLPOINT_BLUE)
    _, top, _, high = design.box
    card.line(grouped(card.article), foot=top + high + 0.8)
    color, region, content = looked_at(card, tmp_path)
    (row,) = content.rows
    assert content.lifted.any() or content.painted.any()
    assert not is_of_two_inks(color, region, content, row)


@pytest.mark.parametrize(("pen", "form"), [(BALLPOINT_BLUE, RED), (BALLPOINT_BLACK, GREEN),
                                           (BALLPOINT_BLUE, (28, 28, 30))])  # fmt: skip
@pytest.mark.parametrize("is_struck", [True, False])
def test_a_rule_through_the_number_in_its_own_ink_is_no_rule(
    tmp_path: Path, pen: Color, form: Color, is_struck: bool
) -> None:
    card, ink = filled(2, pen, form)
    left, _, wide, _ = card.design.box
    y = ink[1] + 0.88 * ink[3]
    card.sheet.fill(left, y, wide, 0.35, pen if is_struck else form)
    color, region, _ = looked_at(card, tmp_path)
    region.printed[:] |= rules_across(ink_of(region.plane.gray))
    content = content_of(region)
    row = max(content.rows, key=len)
    assert is_ruled_in_own_ink(color, region, content, row) is is_struck
    assert not is_ruled_in_own_ink(None, region, content, row)

"""What belongs to a symbol that was read, and what is another print."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from pairing.model import Quad
from pairing.photos.barcodes.engines import CODE_128, Detection
from pairing.photos.barcodes.quads import height_px, quad_of
from pairing.photos.barcodes.stacks import are_two, is_part_of, unstacked
from pairing.photos.barcodes.symbols import read_symbols
from tests.photos.drawing import picture, reportlab_modules

CARD = "9590940258780038231151"  # a published card number (North Carolina DEQ record)
CERTIFIED = "71123456789123456787"
X_PX, HEIGHT_PX, QUIET_PX = 3, 120, 36
MODULES = len(reportlab_modules(CARD))


def rows(first: int, last: int) -> Quad:
    """The card's bars between two rows of the pictures drawn here."""
    left, right = QUIET_PX, QUIET_PX + X_PX * MODULES
    return quad_of([(left, first), (right, first), (right, last), (left, last)])


def stacked(gap_px: int, text: str) -> np.ndarray:
    """The card's symbol and below its bars, `gap_px` further down, another one's."""
    upper = picture(reportlab_modules(CARD), x_px=X_PX, height_px=HEIGHT_PX)
    lower = picture(reportlab_modules(text), x_px=X_PX, height_px=HEIGHT_PX)
    wide = np.full((HEIGHT_PX, upper.shape[1]), 255, np.uint8)
    bars = lower[QUIET_PX:-QUIET_PX, : wide.shape[1]]
    wide[:, : bars.shape[1]] = bars
    gap = np.full((gap_px, upper.shape[1]), 255, np.uint8)
    return np.concatenate([upper[:-QUIET_PX], gap, wide, np.full_like(wide, 255)])


TOP, BOTTOM = QUIET_PX, QUIET_PX + HEIGHT_PX


@pytest.mark.parametrize("slice_px", [(TOP, TOP + 30), (TOP + 80, BOTTOM), (TOP + 40, TOP + 60)])
def test_bars_beyond_a_slice_belong_to_it(slice_px: tuple[int, int]) -> None:
    gray = stacked(90, CERTIFIED)
    assert is_part_of(gray, rows(TOP - 4, BOTTOM + 4), rows(*slice_px), MODULES)
    assert not are_two(gray, rows(*slice_px), rows(TOP, BOTTOM), MODULES)


@pytest.mark.parametrize("gap_px", [X_PX * 9, X_PX * 20])
def test_the_same_number_below_is_another_print(gap_px: int) -> None:
    gray = stacked(gap_px, CARD)
    below = rows(BOTTOM + gap_px, BOTTOM + gap_px + HEIGHT_PX)
    assert not is_part_of(gray, below, rows(TOP, BOTTOM), MODULES)
    assert are_two(gray, rows(TOP, BOTTOM), below, MODULES)


def test_other_bars_below_are_another_print() -> None:
    gray = stacked(0, "9590940258780038231168")
    below = rows(BOTTOM, BOTTOM + HEIGHT_PX)
    assert not is_part_of(gray, below, rows(TOP, BOTTOM), MODULES)


def test_a_block_that_goes_on_sideways_is_more_than_the_symbol() -> None:
    gray = stacked(90, CERTIFIED)
    a, b, c, d = rows(TOP, BOTTOM).corners
    longer = quad_of([a, (b[0] + 120, b[1]), (c[0] + 120, c[1]), d])
    assert not is_part_of(gray, longer, rows(TOP, TOP + 40), MODULES)


def joined(*corners: tuple[float, float]) -> Detection:
    """What an engine makes of all that lies between these."""
    return Detection(
        engine="zxing-cpp", text=CARD, aim="]C1", kind=CODE_128, points=corners, turn_deg=None
    )


@pytest.mark.parametrize("right_px", [0, 40])
def test_a_narrower_strip_with_the_cards_own_number_is_a_symbol_of_its_own(right_px: int) -> None:
    """The strip of a stamped card: no row of the joined quad shows the bars of both in line."""
    gray = np.full((420, 900), 255, np.uint8)
    for top, x_px, high, left in ((40, 3, 80, 60), (190, 2, 40, 120 + right_px)):
        bars = picture(reportlab_modules(CARD), x_px=x_px, height_px=high, quiet_modules=0)
        gray[top : top + high, left : left + bars.shape[1]] = bars
    upper, lower = ((60, 40), (60 + 3 * MODULES, 40)), ((120 + right_px, 230),)
    ends = (120 + right_px + 2 * MODULES, 230)
    parts = unstacked(gray, joined(*upper, ends, *lower))
    high_px = [height_px(quad_of(one.points)) for one in parts]
    assert high_px == pytest.approx([80, 40], abs=6)
    found = read_symbols(gray).symbols
    assert [one.text for one in found] == [CARD, CARD]


def test_one_symbol_that_leans_is_not_taken_apart_where_a_crease_crosses_it() -> None:
    high = 150
    bars = picture(reportlab_modules(CARD), x_px=X_PX, height_px=high)
    bars[QUIET_PX + 60 : QUIET_PX + 90] = 200
    lean = 0.35
    moved = np.array([[1, lean, 0], [0, 1, 0]], np.float64)
    size = (bars.shape[1] + 120, bars.shape[0])
    gray = np.asarray(cv2.warpAffine(bars, moved, size, borderValue=255), np.uint8)
    at = [(QUIET_PX + y * lean, y) for y in (QUIET_PX, QUIET_PX + high)]
    left, right = at, [(x + X_PX * MODULES, y) for x, y in at]
    quad = joined(left[0], right[0], right[1], left[1])
    assert unstacked(gray, quad) == (quad,)

"""What is proposed for the number's box: a comb with as many cells as were drawn, or a cell."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from pairing.photos.forms.comb_cells import comb_in
from pairing.photos.forms.definition import PX_PER_MM
from pairing.photos.forms.learning import flat_picture
from pairing.photos.forms.proposed_box import marked_box, proposed_box
from pairing.photos.written.plane import homography, mapped, rectangle

SIZE_MM = (160.0, 90.0)
TO_PX = np.diag([PX_PER_MM, PX_PER_MM, 1.0])


def card(cells: int, *, left: float = 12.0, pitch: float = 4.2, high: float = 8.0) -> np.ndarray:
    """A card with a comb, a cell over it that a number would fit into, and upright bars."""
    page = np.full([round(v * PX_PER_MM) for v in SIZE_MM[::-1]], 225, np.uint8)
    for x, y, wide, tall in ((12.0, 30.0, 70.0, 10.0), (left, 60.0, cells * pitch, high)):
        a, b = (round(x * PX_PER_MM), round(y * PX_PER_MM)), (
            round((x + wide) * PX_PER_MM), round((y + tall) * PX_PER_MM))  # fmt: skip
        cv2.rectangle(page, a, b, (90,), 2)
    for at in range(cells):
        x = round((left + at * pitch) * PX_PER_MM)
        cv2.line(page, (x, round(60 * PX_PER_MM)), (x, round((60 + high) * PX_PER_MM)), (90,), 2)
    rng = np.random.default_rng(3)
    for x in np.cumsum(rng.integers(1, 5, 120)) * 3:
        page[80:160, 700 + x : 702 + x] = 30
    return page


@pytest.mark.parametrize("cells", [11, 13, 20, 22, 30])
def test_as_many_cells_as_were_drawn(cells: int) -> None:
    place, many = comb_in(card(cells)) or ((0.0, 0.0, 0.0, 0.0), 0)
    assert many == cells
    assert place == pytest.approx((12.0, 60.0, 12.0 + 4.2 * cells, 68.0), abs=0.5)


def test_one_line_that_was_not_printed_is_counted_and_a_dates_comb_is_none() -> None:
    page = card(22)
    x = round((12.0 + 9 * 4.2) * PX_PER_MM)
    page[round(60.6 * PX_PER_MM) : round(67.4 * PX_PER_MM), x - 4 : x + 5] = 225
    found = comb_in(page)
    assert found is not None
    assert found[1] == 22
    assert comb_in(card(8)) is None


def test_the_comb_comes_before_a_cell_and_a_marked_box_says_which_it_is() -> None:
    page = card(22)
    corners = mapped(TO_PX, rectangle(0.0, 0.0, *SIZE_MM))
    found = proposed_box(page, None, corners, SIZE_MM)
    assert found is not None
    assert (found.kind, found.cells) == ("comb", 22)
    marked = mapped(TO_PX, rectangle(11.0, 59.5, 94.0, 9.0))
    assert marked_box(page, marked, corners, SIZE_MM).cells == 22
    cell = mapped(TO_PX, rectangle(12.0, 30.0, 70.0, 10.0))
    assert marked_box(page, cell, corners, SIZE_MM).kind == "frame"
    flat = flat_picture(page, homography(rectangle(0.0, 0.0, *SIZE_MM), corners), SIZE_MM)
    assert flat.shape == page.shape

"""Cells that rules enclose, and their own rules. Drawn here; sizes in mm."""

from __future__ import annotations

import cv2
import numpy as np

from pairing.photos.written.ruled_cells import Cell, cell_region, cells, is_ruled

SCALE = 10
BOX = (20.0, 15.0, 75.0, 14.0)


def card(*, bow_mm: float = 0.0, gap_mm: float = 0.0) -> np.ndarray:
    """A ruled cell whose lower rule hangs through by `bow_mm`, with a gap in it."""
    gray = np.full((45 * SCALE, 115 * SCALE), 210, np.uint8)
    left, top, wide, high = BOX
    across = np.linspace(0, wide, 200)
    sag = bow_mm * (1 - (2 * across / wide - 1) ** 2)
    rules = [
        np.stack([left + across, np.full(200, top)], 1),
        np.stack([left + across, top + high + sag], 1),
        np.array([(left, top), (left, top + high)]),
        np.array([(left + wide, top), (left + wide, top + high)]),
    ]
    for one in rules:
        cv2.polylines(gray, [np.round(one * SCALE).astype(np.int32)], False, (60,), 4)
    if gap_mm:
        y, x = round((top + high) * SCALE), round((left + wide / 2 - gap_mm / 2) * SCALE)
        gray[y - 10 : y + 30, x : x + round(gap_mm * SCALE)] = 210
    return np.asarray(cv2.GaussianBlur(gray, (0, 0), 1.0), np.uint8)


def own_cell() -> Cell:
    left, top, wide, high = BOX
    corners = np.array([(left, top), (left + wide, top), (left + wide, top + high),
                        (left, top + high)]) * SCALE  # fmt: skip
    return Cell(corners=corners, px_per_mm=float(SCALE))


def test_a_cell_in_poor_light_is_found() -> None:
    """A quarter of the light, and of the difference between paper and rules."""
    dark = np.asarray(np.round(card() / 3.2), np.uint8)
    assert cells(card(), None)
    assert cells(dark, None)


def test_a_bowed_rule_is_known_as_the_cells_own() -> None:
    region = cell_region(card(bow_mm=0.9), own_cell())
    foot = region.box[2, 1]
    middle = region.printed[:, region.printed.shape[1] // 2]
    rows = np.flatnonzero(middle)
    assert np.abs(rows - foot - 0.9 * 12.3).min() < 3
    assert is_ruled(region)


def test_a_quadrilateral_that_is_not_ruled_on_all_sides_is_no_cell() -> None:
    assert not is_ruled(cell_region(card(gap_mm=45.0), own_cell()))

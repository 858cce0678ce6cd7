"""Bar heights, on bars drawn by reportlab with heights set by hand."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from pairing.model import Quad
from pairing.photos.barcodes.extent import bar_height_x
from tests.photos.drawing import reportlab_modules

CARD = "9590940258780038231151"  # NC DEQ public record NOV-2020-DV-0495


def drawn(height_x: int, x_px: float, turn_deg: float) -> tuple[np.ndarray, Quad]:
    """Bars of that height with print below them, turned; and a thin line in their middle."""
    modules = np.array(list(map(int, reportlab_modules(CARD))))
    wide, high = round(len(modules) * x_px), round(height_x * x_px)
    bars = np.repeat(
        cv2.resize(255 - 255 * modules[None].astype(np.uint8), (wide, 1), interpolation=0),
        high,
        axis=0,
    )
    canvas = np.full((1000, 1400), 255, np.uint8)
    left, top = 700 - wide // 2, 500 - high // 2
    canvas[top : top + high, left : left + wide] = bars
    cv2.putText(canvas, "9590 9402 5878 0038", (left, top + high + 30), 0, 0.9, 0, 2)
    matrix = cv2.getRotationMatrix2D((700, 500), -turn_deg, 1.0)
    turned = cv2.warpAffine(canvas, matrix, (1400, 1000), borderValue=255, flags=cv2.INTER_AREA)
    corners = [(left, 498), (left + wide, 498), (left + wide, 502), (left, 502)]
    moved = [tuple(matrix @ np.array([x, y, 1.0])) for x, y in corners]
    return turned, Quad(
        top_left=moved[0], top_right=moved[1], bottom_right=moved[2], bottom_left=moved[3]
    )


@pytest.mark.parametrize("turn_deg", [0, 7, 90, 200])
@pytest.mark.parametrize("height_x", [12, 16, 24, 50, 80])
def test_height_is_measured_from_one_line_of_it(height_x: int, turn_deg: float) -> None:
    gray, quad = drawn(height_x, 4.0, turn_deg)
    assert bar_height_x(gray, quad, 4.0) == pytest.approx(height_x, abs=2.5)


def test_no_scale_no_height() -> None:
    gray, quad = drawn(16, 4.0, 0)
    assert bar_height_x(gray, quad, 0.0) == 0.0
    assert bar_height_x(np.full_like(gray, 255), quad, 4.0) == 0.0

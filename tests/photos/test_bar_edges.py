"""A symbol's corners, measured on its bars. Bars by reportlab, perspective by OpenCV: where the
corners went is known."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from pairing.model import Quad
from pairing.photos.barcodes.bar_edges import measured
from pairing.photos.barcodes.quads import corners_of, quad_of
from pairing.photos.code128 import encoding
from tests.photos.drawing import picture, reportlab_modules

NUMBER = "9407100000000000000004"
X_PX, HIGH_PX, PAD_PX = 4, 180, 300


def seen(corners: np.ndarray, *, print_below: bool = True) -> tuple[np.ndarray, np.ndarray]:
    """A symbol on paper, its four corners moved by `corners` px: the photo, and where they are."""
    bars = picture(reportlab_modules(NUMBER), x_px=X_PX, height_px=HIGH_PX, quiet_modules=0)
    paper = np.pad(bars, PAD_PX, constant_values=235)
    high, wide = paper.shape
    flat = np.array(
        [(PAD_PX, PAD_PX), (wide - PAD_PX, PAD_PX), (wide - PAD_PX, high - PAD_PX),
         (PAD_PX, high - PAD_PX)], np.float32,
    )  # fmt: skip
    if print_below:
        at = (PAD_PX + 60, high - PAD_PX + 40)
        cv2.putText(paper, NUMBER, at, cv2.FONT_HERSHEY_SIMPLEX, 1.2, 20, 3, cv2.LINE_AA)
    moved = flat + corners.astype(np.float32)
    matrix = cv2.getPerspectiveTransform(flat - np.float32(0.5), moved - np.float32(0.5))
    photo = cv2.warpPerspective(paper, matrix, (wide, high), borderValue=235)
    return np.asarray(cv2.GaussianBlur(photo, (0, 0), 1.2), np.uint8), moved


def level_slice(corners: np.ndarray) -> tuple[tuple[float, float], ...]:
    """What a decoder tells of it: where level scan lines cross the first and the last bar."""
    a, b, c, d = corners
    low, high = max(a[1], b[1]) + 4, min(c[1], d[1]) - 4
    rows = (low, high) if low < high else ((low + high) / 2 - 2, (low + high) / 2 + 2)
    left = [a + (d - a) * (y - a[1]) / (d[1] - a[1]) for y in rows]
    right = [b + (c - b) * (y - b[1]) / (c[1] - b[1]) for y in rows]
    return tuple((float(x), float(y)) for x, y in (left[0], right[0], right[1], left[1]))


TILTS = {
    "level": [(0, 0), (0, 0), (0, 0), (0, 0)],
    "turned": [(20, -40), (10, 60), (-20, 40), (-10, -60)],
    "oblique": [(0, 0), (-30, 30), (-60, -20), (30, 15)],
    "leaning": [(60, 0), (60, 0), (-20, 0), (-20, 0)],
    "turned and oblique": [(10, -70), (-20, 50), (-40, 20), (0, -60)],
}


@pytest.mark.parametrize("tilt", TILTS, ids=list(TILTS))
def test_corners_are_where_they_were_drawn(tilt: str) -> None:
    photo, corners = seen(np.array(TILTS[tilt], np.float64))
    modules = encoding.shortest_modules(NUMBER, aim="]C0")
    found = measured(photo, quad_of(level_slice(corners)), modules)
    assert found is not None
    off = np.hypot(*(corners_of(found) - corners).T)
    assert off.max() < X_PX  # one module
    assert np.mean(off) < 0.6 * X_PX


def test_an_upside_down_symbol_keeps_its_reading_direction() -> None:
    photo, corners = seen(np.array(TILTS["turned"], np.float64))
    high, wide = photo.shape
    upside_down = np.ascontiguousarray(photo[::-1, ::-1])
    there = np.array([wide, high]) - corners
    first = [(wide - x, high - y) for x, y in level_slice(corners)]
    found = measured(upside_down, quad_of(first), encoding.shortest_modules(NUMBER, aim="]C0"))
    assert found is not None
    assert np.hypot(*(corners_of(found) - there).T).max() < X_PX


def test_bare_paper_has_no_corners() -> None:
    rng = np.random.default_rng(4)
    paper = np.clip(rng.normal(200, 6, (600, 900)), 0, 255).astype(np.uint8)
    quad = quad_of([(100, 200), (700, 200), (700, 300), (100, 300)])
    assert measured(paper, quad, 156) is None


def test_bars_of_which_most_are_gone_have_no_measured_edges() -> None:
    """Found in a run of damaged crops: it ended in a division by nothing. No source: the photo
    says nothing of where those bars were."""
    gray = np.full((120, 600), 220, np.uint8)
    gray[20:100, 30:120:6] = 20
    quad = Quad(top_left=(30, 20), top_right=(570, 20), bottom_right=(570, 100),
                bottom_left=(30, 100))  # fmt: skip
    assert measured(gray, quad, 145) is None

"""What was read in a box, drawn for people: the decision, and single digits enlarged."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad

_WIDE_PX = 1200
_INK, _PAPER, _FAINT = (30, 30, 30), (255, 255, 255), (110, 110, 110)
_FACE = cv2.FONT_HERSHEY_SIMPLEX
_ROW_PX = 44
_LEFT_PX = 90
_BLOCKS = " \u2584\u2580\u2588"
"""Neither half of a character cell inked, the lower, the upper, both."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One place of the comparison. read, label: the characters there, "" for none.
    probability: of the one read, 0..1. place: its stretch of the photo, None where unknown."""

    read: str
    label: str
    probability: float | None
    is_doubtful: bool
    place: Quad | None


def flattened(photo: NDArray[np.uint8], quad: Quad, size: tuple[int, int]) -> NDArray[np.uint8]:
    """A stretch of a gray photo laid flat, (height, width) uint8; size is (width, height)."""
    finer = max(1, min(4, round(math.dist(quad.top_left, quad.top_right) / size[0])))
    big = (size[0] * finer, size[1] * finer)
    there = np.array([(0, 0), (big[0], 0), big, (0, big[1])], np.float32)
    here = np.array(quad.corners, np.float32)
    flat = cv2.warpPerspective(
        photo, cv2.getPerspectiveTransform(here, there), big, flags=cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    return np.asarray(cv2.resize(flat, size, interpolation=cv2.INTER_AREA), np.uint8)


def enlarged(photo: NDArray[np.uint8], place: Quad, *, height_px: int = 320) -> NDArray[np.uint8]:
    """One digit by itself, a little paper around it."""
    wide = math.dist(place.top_left, place.top_right)
    high = math.dist(place.top_left, place.bottom_left) or 1.0
    # Narrow digits get room too, or a stroke fills the picture.
    grow = max(1.15, 0.45 * high / max(wide, 1.0))
    size = (max(8, round(height_px * wide * grow / high)), height_px)
    return flattened(photo, _widened(place, grow), size)


def half_blocks(picture: NDArray[np.uint8], *, rows: int = 20) -> list[str]:
    """A gray picture as lines of block characters, two pixels a cell, dark ones inked."""
    high = 2 * rows
    wide = max(2, round(picture.shape[1] * high / picture.shape[0]))
    small = cv2.resize(picture, (wide, high), interpolation=cv2.INTER_AREA)
    _, ink = cv2.threshold(small, 0, 1, cv2.THRESH_BINARY_INV | cv2.THRESH_OTSU)
    cells = 2 * ink[0::2].astype(int) + ink[1::2]
    return ["".join(_BLOCKS[cell] for cell in row).rstrip() for row in cells]


def decision(
    photo: NDArray[np.uint8], box: Quad, columns: Sequence[Cell], words: str
) -> NDArray[np.uint8]:
    """The box laid flat, under it what was read there with probabilities in percent, under
    that the label's digits. (height, width, 3) BGR uint8; doubtful places framed, differing
    ones marked with a caret; `words` are below."""
    wide = math.dist(box.top_left, box.top_right) or 1.0
    high = math.dist(box.top_left, box.bottom_left)
    top_px = max(60, min(500, round(_WIDE_PX * high / wide)))
    page = np.full((top_px + 4 * _ROW_PX + 30, _WIDE_PX, 3), 255, np.uint8)
    flat = flattened(photo, box, (_WIDE_PX, top_px))
    page[:top_px] = cv2.cvtColor(flat, cv2.COLOR_GRAY2BGR)
    for row, head in enumerate(("box", "%", "label")):
        _text(page, head, (8, top_px + 34 + row * _ROW_PX), 0.7, _FAINT)
    for column, x_px in zip(columns, _places_px(box, columns), strict=True):
        _draw_column(page, column, x_px, top_px)
    _text(page, words, (8, page.shape[0] - 14), 0.65, _INK)
    return page


def _draw_column(page: NDArray[np.uint8], column: Cell, x_px: float, top_px: int) -> None:
    rows = [top_px + 34 + row * _ROW_PX for row in range(4)]
    _centered(page, column.read or "-", x_px, rows[0], 1.0)
    if column.probability is not None:
        _centered(page, f"{math.floor(100 * column.probability)}", x_px, rows[1] - 8, 0.45)
    _centered(page, column.label or "-", x_px, rows[2], 1.0)
    if column.read != column.label and column.label:
        _centered(page, "^", x_px, rows[3] - 6, 0.9)
    if column.is_doubtful:
        corner = (round(x_px) - 17, rows[0] - 30)
        cv2.rectangle(page, corner, (round(x_px) + 17, rows[1] + 2), _INK, 2)


def _places_px(box: Quad, columns: Sequence[Cell]) -> list[float]:
    """Where the columns are: under their digits where that is known and leaves room."""
    known = [_along(box, one.place) * _WIDE_PX for one in columns if one.place is not None]
    even = np.linspace(_LEFT_PX + 30, _WIDE_PX - 40, max(2, len(columns)))[: len(columns)]
    if len(known) != len(columns) or not known:
        return [float(x) for x in even]
    gaps = np.diff(known)
    has_room = known[0] > _LEFT_PX and (len(gaps) == 0 or float(gaps.min()) > 20)
    return known if has_room else [float(x) for x in even]


def _along(box: Quad, place: Quad) -> float:
    """How far along the box a place lies, 0 to 1."""
    (ax, ay), (bx, by) = box.top_left, box.top_right
    x, y = place.center
    dx, dy = bx - ax, by - ay
    return ((x - ax) * dx + (y - ay) * dy) / max(dx * dx + dy * dy, 1e-9)


def _widened(quad: Quad, by: float) -> Quad:
    a, b, c, d = (np.array(corner) for corner in quad.corners)
    over, under = (b - a) * (by - 1) / 2, (c - d) * (by - 1) / 2
    lefts, rights = (a - over, d - under), (b + over, c + under)
    return Quad(
        top_left=_point(lefts[0]),
        top_right=_point(rights[0]),
        bottom_right=_point(rights[1]),
        bottom_left=_point(lefts[1]),
    )


def _point(at: NDArray[np.float64]) -> tuple[float, float]:
    return float(at[0]), float(at[1])


def _centered(page: NDArray[np.uint8], text: str, x_px: float, y_px: int, size: float) -> None:
    text = _drawable(text)
    (wide, _), _ = cv2.getTextSize(text, _FACE, size, 2 if size > 0.6 else 1)
    _text(page, text, (round(x_px - wide / 2), y_px), size, _INK)


def _text(
    page: NDArray[np.uint8],
    text: str,
    at: tuple[int, int],
    size: float,
    color: tuple[int, int, int],
) -> None:
    words = _drawable(text)
    cv2.putText(page, words, at, _FACE, size, color, 2 if size > 0.6 else 1, cv2.LINE_AA)


def _drawable(text: str) -> str:
    """OpenCV turns text into UTF-8, and half a pair of surrogates, which is how Python has a
    byte of a file name that is no UTF-8, ends the process there."""
    return "".join(char if char.isprintable() else "?" for char in text)

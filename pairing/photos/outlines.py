"""A photo with what was read on it outlined and named."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad, Side

_INK = (150, 30, 160)
_PAPER = (255, 255, 255)
_DASHES = {Side.LABEL: 0, Side.CARD: 9, Side.BOX: 0, Side.UNPLACED: 3}
"""Dash length in line widths, 0 for a whole line: sides differ by line and word, not by hue."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One outline: where, what it was taken for, and the words beside it."""

    quad: Quad
    side: Side
    words: str


def outlined(gray: NDArray[np.uint8], marks: Sequence[Mark]) -> NDArray[np.uint8]:
    """The photo, (height, width) uint8, as (height, width, 3) BGR uint8 with the marks drawn."""
    picture = np.asarray(cv2.cvtColor(gray, cv2.COLOR_GRAY2BGR), dtype=np.uint8)
    width_px = max(2, round(max(gray.shape) / 600))
    for mark in marks:
        corners = np.array(mark.quad.corners, dtype=np.float64)
        for color, thick in ((_PAPER, 3 * width_px), (_INK, width_px)):
            _outline(picture, _grown(corners, 2.5 * width_px), color, thick, _DASHES[mark.side])
        if mark.side is Side.BOX:
            _outline(picture, _grown(corners, 6 * width_px), _INK, width_px, 0)
        _words(picture, mark, corners, width_px)
    return picture


def _grown(corners: NDArray[np.float64], by_px: float) -> NDArray[np.float64]:
    middle = corners.mean(axis=0)
    away = corners - middle
    lengths = np.linalg.norm(away, axis=1, keepdims=True)
    grown: NDArray[np.float64] = corners + away / np.maximum(lengths, 1.0) * by_px
    return grown


def _outline(
    picture: NDArray[np.uint8],
    corners: NDArray[np.float64],
    color: tuple[int, int, int],
    thick_px: int,
    dash: int,
) -> None:
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        length = float(np.linalg.norm(end - start))
        steps = max(1, round(length / (dash * thick_px))) if dash else 1
        cuts = np.linspace(0.0, 1.0, steps + 1)
        for first, last in list(pairwise(cuts))[:: 2 if dash else 1]:
            a, b = (start + (end - start) * part for part in (first, last))
            cv2.line(picture, _pixel(a), _pixel(b), color, thick_px, cv2.LINE_AA)


def _words(
    picture: NDArray[np.uint8], mark: Mark, corners: NDArray[np.float64], width_px: int
) -> None:
    """The words above the outline's highest corner, or below where there is no room."""
    size = 0.35 * width_px
    (wide, high), foot = cv2.getTextSize(mark.words, cv2.FONT_HERSHEY_SIMPLEX, size, width_px)
    left = int(np.clip(corners[:, 0].min(), 0, max(0, picture.shape[1] - wide)))
    top = int(corners[:, 1].min()) - 8 * width_px - foot
    if top - high < 0:
        top = int(corners[:, 1].max()) + 8 * width_px + high
    top = min(top, picture.shape[0] - foot)
    edge = width_px
    cv2.rectangle(
        picture, (left - edge, top - high - edge), (left + wide + edge, top + foot), _PAPER, -1
    )
    cv2.putText(
        picture, mark.words, (left, top), cv2.FONT_HERSHEY_SIMPLEX, size, _INK, width_px,
        cv2.LINE_AA,
    )  # fmt: skip


def _pixel(point: NDArray[np.float64]) -> tuple[int, int]:
    return round(float(point[0])), round(float(point[1]))

"""A comb on an empty card: cells for single characters, told by lines that stand upright at equal
distances. On a form's picture, laid flat.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.forms import printed_places
from pairing.photos.forms.definition import PX_PER_MM
from pairing.photos.forms.printed_places import Rect

_HIGH_MM, _THIN_MM = (2.5, 16.0), 1.0
_PITCH_MM = (3.0, 9.0)
"""Cells are so wide. Common practice, no source."""
_FEWEST, _MOST = 10, 40
"""A date's comb has eight cells at most, no number fewer than eleven characters; one cell more or
less was miscounted here."""
_LEVEL_MM = 0.8
_OFF = 0.12
"""A line stands where it is expected to within this share of a cell."""


def comb_in(picture: NDArray[np.uint8], place: Rect | None = None) -> tuple[Rect, int] | None:
    """The comb with the most cells, left, top, right, foot in mm, and how many cells it has; None
    where there is none. picture: gray (h, w) uint8, `PX_PER_MM` px a mm. place: look in it
    alone, mm."""
    ink = printed_places.ink_over(printed_places.missing_light(picture), printed_places.INK)
    found = [comb for level in _levels(_upright(ink, place)) for comb in _combs(level)]
    return max(found, key=lambda one: one[1], default=None)


def _upright(ink: printed_places.Mask, place: Rect | None) -> list[Rect]:
    """Thin upright lines as high as cells."""
    least = round(_HIGH_MM[0] * PX_PER_MM)
    lines = cv2.morphologyEx(ink, cv2.MORPH_OPEN, np.ones((least, 1), np.uint8))
    _, _, stats, _ = cv2.connectedComponentsWithStats(lines)
    found = []
    for x, y, wide, high, _ in stats[1:].tolist():
        rect = printed_places.in_mm(x, y, x + wide, y + high)
        is_line = wide <= _THIN_MM * PX_PER_MM and high <= _HIGH_MM[1] * PX_PER_MM
        if is_line and (place is None or _is_near(rect, place)):
            found.append(rect)
    return found


def _is_near(line: Rect, place: Rect) -> bool:
    """Whether a line is in a place that a person marked, or on its edge."""
    x, y = (line[0] + line[2]) / 2, (line[1] + line[3]) / 2
    return place[0] - 1.5 < x < place[2] + 1.5 and place[1] < y < place[3]


def _levels(lines: list[Rect]) -> list[list[Rect]]:
    """Lines that begin and end on one level, from the left."""
    found = []
    for one in lines:
        level = [other for other in lines if abs(other[1] - one[1]) < _LEVEL_MM
                 and abs(other[3] - one[3]) < _LEVEL_MM]  # fmt: skip
        if len(level) > _FEWEST:
            found.append(sorted(level))
    return found


def _combs(level: list[Rect]) -> list[tuple[Rect, int]]:
    """Runs of lines of a level that stand a cell apart, one of which may have been missed."""
    middles = np.array([(one[0] + one[2]) / 2 for one in level])
    steps = np.diff(middles)
    usual = steps[(steps > _PITCH_MM[0]) & (steps < _PITCH_MM[1])]
    if len(usual) < _FEWEST - 2:
        return []
    pitch = float(np.median(usual))
    many = np.round(steps / pitch)
    is_step = (many >= 1) & (many <= 2) & (np.abs(steps - many * pitch) < _OFF * pitch * many)
    found, start = [], 0
    for at in range(1, len(level) + 1):
        if at < len(level) and is_step[at - 1]:
            continue
        run, cells = level[start:at], round((middles[at - 1] - middles[start]) / pitch)
        if _FEWEST <= cells <= _MOST:
            top, foot = np.median([(one[1], one[3]) for one in run], axis=0)
            rect = (float(middles[start]), float(top), float(middles[at - 1]), float(foot))
            found.append((rect, cells))
        start = at
    return found

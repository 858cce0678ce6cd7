"""A form drawn for people: the empty card, its box, and where its own bars are."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing import output
from pairing.photos.forms.definition import NO_BOX, PX_PER_MM, Form, Polygon

_BOX, _FIELD, _BARS = (40, 40, 200), (190, 90, 20), (150, 150, 150)
"""BGR."""


def drawn(form: Form) -> NDArray[np.uint8]:
    """(height, width, 3) BGR uint8: the box in red, other fields in blue, the card's own bars in
    gray."""
    page = np.asarray(cv2.cvtColor(form.picture, cv2.COLOR_GRAY2BGR), np.uint8)
    if form.bars is not None:
        _outline(page, form.bars, _BARS, 2)
    for one in form.fields:
        _outline(page, one.place, _FIELD, 2)
        _name(page, one.place, one.name, _FIELD)
    if form.kind != NO_BOX:
        _outline(page, form.box, _BOX, 4)
        _name(page, form.box, "number", _BOX)
    return page


def write_drawing(page: NDArray[np.uint8], path: Path) -> None:
    """Write a drawing as PNG. Raises OutputRefused."""
    is_done, png = cv2.imencode(".png", page)
    assert is_done
    remedy = "Check the folder, or give another one with --drawing."
    output.replace(path, [png.tobytes()], remedy=remedy)


def _name(page: NDArray[np.uint8], place: Polygon, text: str, color: tuple[int, int, int]) -> None:
    x, y = (round(v * PX_PER_MM) for v in place[0])
    ascii_text = text.encode("ascii", "replace").decode()
    cv2.putText(page, ascii_text, (x, max(24, y - 10)), cv2.FONT_HERSHEY_SIMPLEX, 0.9, color, 2,
                cv2.LINE_AA)  # fmt: skip


def _outline(
    page: NDArray[np.uint8], place: Polygon, color: tuple[int, int, int], wide: int
) -> None:
    corners = np.round(np.array(place) * PX_PER_MM).astype(np.int32)
    cv2.polylines(page, [corners], True, color, wide, cv2.LINE_AA)

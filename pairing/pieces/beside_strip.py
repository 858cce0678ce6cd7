"""What is written around a strip on a card of no known form: only the form's print may be.

Looked at are the paper around the strip and the cell that it lies in, whose rules are known there.
"""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.written import shared_reader
from pairing.photos.written.box_lines import cut_line
from pairing.photos.written.form_words import are_words, put_together
from pairing.photos.written.frame import Mark
from pairing.photos.written.ink_rows import fitted, middles, tall_of
from pairing.photos.written.plane import PX_PER_MM, corners_of, stretch
from pairing.photos.written.region import Region, content_of
from pairing.photos.written.ruled_cells import cell_region, cells

Corners = NDArray[np.float64]

_PRINT_MM = 2.4
"""Higher rows beside a strip are no captions, whatever they look like."""
_MOST_MM = 9.5
"""Higher marks are the table beside the card."""
_FEWEST = 4
_OWN_ALONG, _OWN_UNDER = 0.62, 0.115
"""A card's own bars and the number right under them, in lengths of the bars."""


def is_written_beside(
    photo: NDArray[np.uint8],
    around: Region,
    card: Quad | None,
    middle: tuple[float, float],
    places: Callable[[Region], tuple[Corners, Corners | None]],
) -> bool:
    """Whether anything but the form's print is written around a strip.

    photo: gray (h, w) uint8. around: the paper around the strip. card: the card's own bars.
    middle: the strip's, px of the photo. places: corners (4, 2) of the strip and of its print in a
    region's plane; None for print that was not read.
    """
    regions = [around, *_cells_of(photo, card, middle)]
    return any(_is_written(photo, region, card, *places(region)) for region in regions)


def _cells_of(
    photo: NDArray[np.uint8], card: Quad | None, middle: tuple[float, float]
) -> list[Region]:
    return [
        cell_region(photo, cell)
        for cell in cells(photo, card)
        if cv2.pointPolygonTest(cell.corners.astype(np.float32), middle, measureDist=False) > 0
    ]


def _is_written(
    photo: NDArray[np.uint8],
    region: Region,
    card: Quad | None,
    strip: Corners,
    own_print: Corners | None,
) -> bool:
    content = content_of(region, strip=strip)
    cards_own = None if card is None else region.plane.place(corners_of(_with_number(card)))
    every = [mark for row in content.rows for mark in row]
    pool = [*every, *content.left_over, *content.small]
    for whole in content.rows:
        row = [
            mark
            for mark in whole
            if mark[3] < _MOST_MM * PX_PER_MM
            and not is_on(own_print, mark)
            and not is_on(cards_own, mark)
        ]
        if row and tall_of(row) > _PRINT_MM * PX_PER_MM:
            return True
        if len(row) < _FEWEST:
            continue
        line = cut_line(photo, region.plane, row, 0.0, content.painted, goes_on=True)
        if shared_reader().look(line.picture).kind == "print":
            continue
        words = put_together(row, pool, fitted(*middles(row))[0])
        if not are_words(photo, region, content, words, shared_reader()):
            return True
    return False


def _with_number(card: Quad) -> Quad:
    a, b, c, d = corners_of(card)
    long = float(np.linalg.norm(b - a) + np.linalg.norm(c - d))
    half = 0.5 * float(np.linalg.norm(d - a) + np.linalg.norm(c - b)) / max(long, 1.0)
    return stretch(card, along=(-_OWN_ALONG, _OWN_ALONG), below=(-half - 0.02, half + _OWN_UNDER))


def is_on(place: Corners | None, mark: Mark) -> bool:
    """Whether a mark's middle lies in a polygon, (n, 2)."""
    if place is None:
        return False
    middle = (mark[0] + mark[2] / 2, mark[1] + mark[3] / 2)
    polygon = place.astype(np.float32).reshape(-1, 1, 2)
    return cv2.pointPolygonTest(polygon, middle, measureDist=False) >= 0

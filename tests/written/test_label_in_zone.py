"""A label that lies over the card's box: its print must not count as what the box says.

Made from two drawn photos (`sample_scans/README.md`): the label's bars and print cut from one
and laid on the other, so that the print falls where the box is.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pairing.model import Side
from pairing.photos.files import Frame, frames
from pairing.photos.written import box_zone, line_under, read_box, shared_reader
from pairing.pieces.card_box import look_in_box
from pairing.pieces.photo_groups import Photo
from pairing.pieces.reading import _placed, _symbols

SCANS = Path(__file__).resolve().parents[2] / "sample_scans"


def gray(name: str) -> np.ndarray:
    return next(iter(frames(SCANS / name))).gray


def read(picture: np.ndarray):  # type: ignore[no-untyped-def]
    frame = Frame(photo=SCANS / "x.jpg", page=1, gray=picture)
    return frame, *_placed(frame, _symbols(frame).symbols, Photo(path=frame.photo, shows=None))


@pytest.fixture(scope="module")
def covered() -> np.ndarray:
    """Sample 0008's card with its label's bars and print over the box."""
    _, (label,), _ = read(gray("0008-label.jpg"))
    quad = label.standing.symbol.quad
    line = line_under(gray("0008-label.jpg"), quad)
    assert line is not None
    xs = [x for x, _ in quad.corners]
    foot = max(y for _, y in line.quad().corners)
    top = foot - 190  # the print and 13 mm of bars, at 9 px/mm
    left, right = round(min(xs)) - 15, round(max(xs)) + 15
    patch = gray("0008-label.jpg")[round(top) : round(foot), left:right]
    card = gray("0008-card.jpg").copy()
    _, _, own = read(card)
    assert own is not None
    zone = box_zone(own.symbol.quad)
    at_x, at_y = round(zone.top_left[0]) + 60, round(zone.bottom_left[1]) - 20
    card[at_y - patch.shape[0] : at_y, at_x : at_x + patch.shape[1]] = patch
    return card


def test_bars_that_were_read_keep_the_box_from_being_read(covered: np.ndarray) -> None:
    frame, placed, own = read(covered)
    assert own is not None
    assert {one.reading.side for one in placed} == {Side.CARD, Side.UNPLACED}
    assert look_in_box(frame, placed, own, shows=None).seen is None


def test_and_so_do_bars_that_were_not_read(covered: np.ndarray) -> None:
    _, _, own = read(covered)
    assert own is not None
    box = read_box(covered, own.symbol.quad, shared_reader())
    assert box.lines, "the label's print lies in the box"
    assert box.line is None

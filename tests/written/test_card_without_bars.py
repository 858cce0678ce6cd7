"""The card found by its printed form, on drawn photos (`sample_scans/README.md`), also with the
photo turned and with a label lying on the card."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from pairing.model import How, Quad, Reading, Side, Symbol
from pairing.numbers import identify
from pairing.photos.barcodes.card import Standing
from pairing.photos.files import Frame, frames
from pairing.photos.forms import folder
from pairing.photos.written import line_under
from pairing.photos.written.card_without_bars import fields, is_within
from pairing.photos.written.plane import stretch
from pairing.pieces.card_box import look_in_box
from pairing.pieces.photo_groups import Photo
from pairing.pieces.placed import Placed
from pairing.pieces.reading import read_photo

SCANS = Path(__file__).resolve().parents[2] / "sample_scans"
WRITTEN = "RR519204375US"  # sample_scans/manifest.csv, piece 0011: by hand, no card barcode


def frame_of(name: str) -> Frame:
    return next(iter(frames(SCANS / name)))


def frame_like(frame: Frame, gray: np.ndarray) -> Frame:
    return Frame(photo=frame.photo, page=1, gray=np.ascontiguousarray(gray, np.uint8))


def tall_symbol(at: Quad) -> Placed:
    """A label's bars at some place."""
    symbol = Symbol(
        text=WRITTEN, aim="]C0", kind="Code 128", quad=at, angle_deg=0.0, x_px=3.0,
        witnesses=("a", "b"),
    )  # fmt: skip
    return Placed(
        standing=Standing(symbol=symbol, height_x=40.0),
        reading=Reading(
            side=Side.UNPLACED, how=How.BARCODE, number=identify(WRITTEN), source="x", quad=at
        ),
    )


@pytest.mark.parametrize("turn", [None, cv2.ROTATE_180])
def test_the_box_of_a_card_without_a_barcode_is_read(turn: int | None) -> None:
    frame = frame_of("0011-card.jpg")
    if turn is not None:
        frame = frame_like(frame, cv2.rotate(frame.gray, turn))
    looked = look_in_box(frame, [], None, shows=Side.CARD)
    assert looked.seen is not None
    assert looked.seen.is_by_shape
    assert looked.seen.evidence is not None
    assert looked.seen.evidence.best == WRITTEN


def test_a_sheet_that_bears_a_label_is_no_card() -> None:
    frame = frame_of("0011-card.jpg")
    ruled = fields(frame.gray)
    assert len(ruled) >= 2
    paper = ruled[0].paper
    assert paper is not None
    assert is_within(ruled[1].place.center, paper)
    # As high as a label's bars: 16 mm, on a card of 150 mm.
    at = stretch(ruled[1].place, along=(-0.5, 0.5), below=(-0.1, 0.1))
    looked = look_in_box(frame, [tall_symbol(at)], None, shows=None)
    assert looked.seen is None


def test_an_unnamed_photo_without_its_label_is_not_taken_for_the_card(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Unless its form is known."""
    monkeypatch.setattr(folder, "BUILT_IN", tmp_path)
    frame = frame_of("0011-card.jpg")
    assert look_in_box(frame, [], None, shows=None).seen is None


def test_the_label_alone_is_never_searched_for_a_box() -> None:
    frame = frame_of("0011-card.jpg")
    assert look_in_box(frame, [], None, shows=Side.LABEL).seen is None


@pytest.mark.parametrize("name", ["0001-label.jpg", "0011-label.jpg", "0030-label.jpg"])
def test_a_label_is_no_box(name: str) -> None:
    """Even where nothing says what the photo shows, and though it bears the very number."""
    for frame in read_photo(Photo(path=SCANS / name, shows=None)).frames:
        assert frame.seen is None
        assert all(reading.side is not Side.BOX for reading in frame.readings)


def test_a_label_whose_bars_are_gone_is_no_box() -> None:
    """Its printed number is there, and must not be taken for what is in the box."""
    frame = frame_of("0011-label.jpg")
    (symbol,) = (r for r in read_photo(Photo(path=frame.photo, shows=None)).frames[0].readings)
    assert symbol.quad is not None
    spoiled = frame.gray.copy()
    xs = [round(x) for x, _ in symbol.quad.corners]
    ys = [round(y) for _, y in symbol.quad.corners]
    spoiled[min(ys) - 30 : max(ys), min(xs) : max(xs)] = 235
    assert line_under(spoiled, symbol.quad) is not None
    looked = look_in_box(frame_like(frame, spoiled), [], None, shows=None)
    assert looked.seen is None


def test_the_same_file_twice_is_one_photo(tmp_path: Path) -> None:
    from pairing.pieces.photo_groups import PhotoPiece
    from pairing.pieces.reading import read_piece

    for name in ("a.jpg", "b.jpg"):
        (tmp_path / name).write_bytes((SCANS / "0008-card.jpg").read_bytes())
    photos = [Photo(path=tmp_path / name, shows=Side.CARD) for name in ("a.jpg", "b.jpg")]
    once = read_piece(PhotoPiece(name="x", photos=(photos[0],)))
    twice = read_piece(PhotoPiece(name="x", photos=tuple(photos)))
    assert once.seen is not None
    assert twice.seen is not None
    assert once.photos[0].sha256 == twice.photos[1].sha256
    assert twice.seen.digit_probabilities == once.seen.digit_probabilities
    assert twice.seen.source == once.seen.source


@pytest.mark.parametrize("shape", [(1, 1), (2, 900), (63, 63), (900, 2), (200, 200)])
def test_any_picture_can_be_looked_at(shape: tuple[int, int]) -> None:
    noise = np.random.default_rng(1).integers(0, 256, shape).astype(np.uint8)
    frame = Frame(photo=SCANS / "none.jpg", page=1, gray=noise)
    assert look_in_box(frame, [], None, shows=Side.CARD).seen is None

"""Annotated pictures: one for each frame, marked where something was read."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from pairing.errors import OutputRefused
from pairing.model import Quad, Side
from pairing.photos.barcodes.symbols import read_symbols
from pairing.photos.outlines import Mark, outlined
from pairing.photos.written.shown import Cell, decision, half_blocks
from pairing.pieces.batch import judge_all
from pairing.pieces.drawings import write_box, write_decision, write_pictures
from pairing.pieces.photo_groups import group
from pairing.pieces.reading import read_piece


def test_each_photo_is_written_with_marks_where_it_was_read(samples: Path, tmp_path: Path) -> None:
    (piece,) = group([samples / "0001-label.jpg", samples / "0001-card.jpg"])
    read = read_piece(piece)
    paths = write_pictures(read, tmp_path / "new")
    assert [path.name for path in paths] == ["0001-label.jpg", "0001-card.jpg"]
    for path, photo in zip(paths, read.photos, strict=True):
        marked, plain = cv2.imread(str(path)), cv2.imread(str(photo.photo.path), 0)
        assert marked is not None
        assert plain is not None
        assert marked.shape[:2] == plain.shape
        colored = np.ptp(marked.astype(int), axis=2) > 60
        ys, xs = np.nonzero(colored)
        for reading in photo.frames[0].readings:
            assert reading.quad is not None
            corners = np.array(reading.quad.corners)
            near = (xs > corners[:, 0].min() - 40) & (xs < corners[:, 0].max() + 40)
            near &= (ys > corners[:, 1].min() - 60) & (ys < corners[:, 1].max() + 60)
            assert near.sum() > 500
        assert colored.mean() < 0.05


@pytest.mark.parametrize("side", Side)
def test_a_mark_at_the_edge_does_not_fail(side: Side) -> None:
    gray = np.full((50, 80), 200, np.uint8)
    quad = Quad(top_left=(-9, -9), top_right=(90, 0), bottom_right=(90, 60), bottom_left=(0, 55))
    picture = outlined(gray, [Mark(quad=quad, side=side, words="label: 9589 0733")])
    assert picture.shape == (50, 80, 3)
    assert (picture != 200).any()
    assert (outlined(gray, []) == 200).all()


def test_a_folder_that_cannot_be_made(samples: Path, tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    (piece,) = group([samples / "0001-label.jpg"])
    with pytest.raises(OutputRefused, match="cannot be written"):
        write_pictures(read_piece(piece), tmp_path / "file" / "below")


def test_a_decision_shows_the_box_the_digits_and_the_label(samples: Path, tmp_path: Path) -> None:
    (piece,) = group([samples / "0010-label.jpg", samples / "0010-card.jpg"])
    read = read_piece(piece)
    (result,) = judge_all([read]).pieces
    path = write_decision(read, result, tmp_path)
    assert path == tmp_path / "0010-box.png"
    page = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
    assert page is not None
    rows = page.shape[0]
    assert page[: rows // 2].std() > 10  # the photo
    ink = (page[rows // 2 :] < 100).sum()
    assert ink > 2000  # characters
    assert write_decision(read, result, tmp_path, is_label_held=True) == path
    held = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
    assert held is not None
    assert (held[rows // 2 :] < 100).sum() < 0.8 * ink  # the label's are not among them
    (other,) = group([samples / "0010-label.jpg"])
    alone = read_piece(other)
    assert write_decision(alone, judge_all([alone]).pieces[0], tmp_path) is None


def test_the_box_is_shown_without_the_label(samples: Path, tmp_path: Path) -> None:
    (piece,) = group([samples / "0018.jpg"])  # label and card in one photo
    read = read_piece(piece)
    path = write_box(read, tmp_path)
    assert path is not None
    page = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
    assert page is not None
    assert page.std() > 10
    texts = {one.text for one in read_symbols(np.asarray(page, np.uint8)).symbols}
    assert not texts  # neither bars of the label nor of the card
    assert write_box(read_piece(group([samples / "0010-label.jpg"])[0]), tmp_path) is None


def test_doubtful_places_and_differing_ones_are_marked() -> None:
    gray = np.full((100, 400), 200, np.uint8)
    box = Quad(top_left=(0, 0), top_right=(400, 0), bottom_right=(400, 100), bottom_left=(0, 100))

    def page(read: str, label: str, *, doubtful: bool = False) -> np.ndarray:
        cell = Cell(read=read, label=label, probability=0.5, is_doubtful=doubtful, place=None)
        return decision(gray, box, [cell], "0007: Look again")

    plain = page("7", "7")
    assert (plain != page("7", "7", doubtful=True)).any()
    assert (page("1", "7") < 100).sum() != (plain < 100).sum()
    assert page("1", "").shape == plain.shape


def test_a_digit_is_drawn_in_half_blocks() -> None:
    """U+2580 to U+2588: Unicode's block elements, upper half, lower half, full."""
    page = np.full((40, 20), 230, np.uint8)
    page[10:30, 8:12] = 20
    drawn = half_blocks(page, rows=20)
    assert len(drawn) == 20
    assert set("".join(drawn)) == {" ", "\u2588"}
    assert sum(line.count("\u2588") for line in drawn) == 10 * 4
    assert set("".join(half_blocks(page, rows=3))) <= set(" \u2580\u2584\u2588")

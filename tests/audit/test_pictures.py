"""Annotated pictures: one for each frame, marked where something was read."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from pairing.audit.pictures import write_pictures
from pairing.audit.pieces import group
from pairing.audit.reading import read_piece
from pairing.errors import OutputRefused
from pairing.model import Quad, Side
from pairing.photos.pictures import Mark, outlined


def test_each_photo_is_written_with_marks_where_it_was_read(samples: Path, tmp_path: Path) -> None:
    (piece,) = group([samples / "0001-label.jpg", samples / "0001-card.jpg"])
    read = read_piece(piece)
    paths = write_pictures(read, tmp_path / "new")
    assert [path.name for path in paths] == ["0001-label.jpg", "0001-card.jpg"]
    for path, photo in zip(paths, read.photos, strict=True):
        marked, plain = cv2.imread(str(path)), cv2.imread(str(photo.photo.path), 0)
        assert marked.shape[:2] == plain.shape
        coloured = np.ptp(marked.astype(int), axis=2) > 60
        ys, xs = np.nonzero(coloured)
        for reading in photo.frames[0].readings:
            assert reading.quad is not None
            corners = np.array(reading.quad.corners)
            near = (xs > corners[:, 0].min() - 40) & (xs < corners[:, 0].max() + 40)
            near &= (ys > corners[:, 1].min() - 60) & (ys < corners[:, 1].max() + 60)
            assert near.sum() > 500
        assert coloured.mean() < 0.05


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

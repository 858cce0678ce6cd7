"""From a drawn photo to its readings. Bars by reportlab; the picture around them invented."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np

from pairing.findings import Weight
from pairing.model import Reading, Side
from pairing.pieces.batch import read_all
from pairing.pieces.photo_groups import Photo, PhotoPiece
from pairing.pieces.reading import read_piece
from tests.photos.drawing import picture, reportlab_modules

LABEL = "70191640000008004105"  # public record, retail label


def labeled(path: Path, *, paper: int, ink: int) -> Photo:
    """A label's bars, 50 X high, in the given grays."""
    bars = picture(reportlab_modules(LABEL), x_px=4, height_px=200)
    gray = np.where(bars < 128, ink, paper).astype(np.uint8)
    cv2.imwrite(str(path), np.pad(gray, 200, constant_values=paper))
    return Photo(path=path, shows=None)


def only_reading(photo: Photo) -> Reading:
    piece = read_piece(PhotoPiece(name="x", photos=(photo,)))
    (reading,) = piece.readings
    assert reading.side is Side.LABEL
    return reading


def test_a_label_printed_faintly_is_noted_as_an_estimate(tmp_path: Path) -> None:
    # Symbol contrast of 0.12 is under 20 %, grade F (ISO/IEC 15416:2000).
    reading = only_reading(labeled(tmp_path / "a.png", paper=230, ink=200))
    (finding,) = reading.findings
    assert finding.code == "label-print-failing"
    assert "not a certified" in finding.message
    assert finding.weight is Weight.NOTE


def test_a_label_printed_well_is_not(tmp_path: Path) -> None:
    assert not only_reading(labeled(tmp_path / "a.png", paper=235, ink=15)).findings


def test_a_reader_that_gives_up_a_photo_skips_it_alone(tmp_path: Path) -> None:
    good = labeled(tmp_path / "a.png", paper=235, ink=15)
    bad = Photo(path=tmp_path / "gone.png", shows=None)
    piece = read_piece(PhotoPiece(name="x", photos=(bad, good)))
    assert len(piece.readings) == 1
    assert [row.photo for row in piece.skipped] == [bad]


def test_the_batch_reads_in_another_process_what_this_one_reads(tmp_path: Path) -> None:
    photo = labeled(tmp_path / "a.png", paper=235, ink=15)
    (tmp_path / "junk.png").write_bytes(b"\x89PNG\r\n\x1a\n" + b"\0" * 40)
    pieces = [
        PhotoPiece(name="junk", photos=(Photo(path=tmp_path / "junk.png", shows=None),)),
        PhotoPiece(name="x", photos=(photo,)),
    ]
    junk, read = read_all(pieces)
    assert not junk.photos
    assert junk.skipped
    assert read == read_piece(pieces[1])

"""Print under bars as a second witness, and never as the only one. Labels drawn by
`decode_scenes`; columns of the bars are washed out here as glare does."""

from __future__ import annotations

import os
from pathlib import Path

import cv2
import numpy as np
import pytest

from pairing.judge import judge
from pairing.model import How, Quad, Reading, Side, Verdict
from pairing.numbers import identify
from pairing.photos.barcodes import symbols
from pairing.photos.barcodes.engines import CODE_128, Detection, load_engines
from pairing.photos.barcodes.halved import Halved
from pairing.photos.barcodes.symbols import SymbolReport
from pairing.photos.files import frames
from pairing.pieces.photo_groups import Photo
from pairing.pieces.print_witness import print_alone
from pairing.pieces.reading import FrameReadings, read_photo
from tests.benchmarks.decode_scenes import TRIED, _label

NUMBER = "70191640000008004105"  # public record, retail label


def _photo(path: Path, *, printed: str = NUMBER, bars: str = NUMBER, glare: float = 0.0) -> Path:
    """A label on a table, 4 to 5 px an X; glare: the share of the bars' middle that is gone."""
    rng = np.random.default_rng(5)
    sheet = _label(TRIED[0], bars, rng)
    if printed != bars:
        other = _label(TRIED[0], printed, np.random.default_rng(5))
        foot = round((14 + 19 + 0.5) * 16)
        sheet = sheet.copy()
        sheet[foot:] = other[foot:]
    wide = sheet.shape[1]
    middle, half = wide // 2, round(wide * glare / 2)
    sheet = sheet.copy()
    sheet[14 * 16 - 8 : 33 * 16 + 8, middle - half : middle + half] = 250
    small = cv2.resize(sheet, None, fx=0.62, fy=0.62, interpolation=cv2.INTER_AREA)
    table = np.full((small.shape[0] + 240, small.shape[1] + 240), 120, np.uint8)
    table[120:-120, 120:-120] = small
    noise = rng.normal(0, 2, table.shape)
    gray = np.clip(cv2.GaussianBlur(table, (0, 0), 1.0) + noise, 0, 255).astype(np.uint8)
    cv2.imwrite(os.fspath(path), gray)
    return path


def _read(path: Path) -> FrameReadings:
    (frame,) = read_photo(Photo(path=path, shows=Side.LABEL)).frames
    return frame


def _alone(monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    """As if of all ways to read bars one engine alone had seen this text, in the whole photo."""
    engine = load_engines().zxing
    assert engine is not None

    def reads(photo: Halved, engines: object) -> list[Detection]:
        found = engine.read(photo.gray)
        return [
            Detection(
                engine=engine.name, text=text, aim="]C0", kind=CODE_128, points=one.points,
                turn_deg=None,
            )
            for one in found
        ]  # fmt: skip

    monkeypatch.setattr(symbols, "_frame_reads", reads)
    monkeypatch.setattr(symbols, "quick_witness", lambda *_: ())
    monkeypatch.setattr(symbols, "read_place", lambda _gray, _quad, _engines, votes: votes)
    monkeypatch.setattr(symbols, "read_blocks", lambda *_: None)


def test_print_confirms_what_one_decoder_reads(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _alone(monkeypatch, NUMBER)
    frame = _read(_photo(tmp_path / "a.png"))
    (label,) = frame.readings
    assert (label.side, label.number.text) == (Side.LABEL, NUMBER)
    assert [one.code for one in label.findings if one.code == "bars-by-print"]
    assert not frame.found


def test_print_that_says_something_else_confirms_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = "70191640000008004112"
    _alone(monkeypatch, NUMBER)
    frame = _read(_photo(tmp_path / "a.png", printed=other))
    assert not frame.readings
    assert [one.code for one in frame.found] == ["one-witness"]


def test_a_number_whose_check_digit_fails_is_not_confirmed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    wrong = NUMBER[:-1] + "6"
    _alone(monkeypatch, wrong)
    frame = _read(_photo(tmp_path / "a.png", printed=wrong, bars=wrong))
    assert not frame.readings


def test_print_alone_is_told_and_is_no_reading(tmp_path: Path) -> None:
    """The middle of all bars is gone: nobody can read them, the print is whole."""
    frame = _read(_photo(tmp_path / "a.png", glare=0.16))
    assert not frame.readings
    assert [one.code for one in frame.found] == ["label-print-alone"]


def test_print_alone_never_leads_to_agrees(tmp_path: Path) -> None:
    frame = _read(_photo(tmp_path / "a.png", glare=0.16))
    box = Reading(side=Side.BOX, how=How.KEYED, number=identify(NUMBER), source="keyed")
    own = Reading(
        side=Side.CARD, how=How.KEYED, number=identify("9590940212345678901239"), source="keyed"
    )
    said = judge([*frame.readings, box, own], found=frame.found)
    assert said.verdict is Verdict.UNREAD
    assert said.article is None


def test_print_in_the_foot_of_a_block_is_told_from_its_bars(tmp_path: Path) -> None:
    """The block ends in the middle of the print: too low there to be a part of its own."""
    (frame,) = frames(_photo(tmp_path / "a.png", glare=0.16))
    block = Quad(
        top_left=(220.0, 260.0), top_right=(784.0, 260.0),
        bottom_right=(784.0, 480.0), bottom_left=(220.0, 480.0),
    )  # fmt: skip
    report = SymbolReport(symbols=(), unread=(block,), conflicts=(), missing=(), lonely=())
    assert [one.code for one in print_alone(frame, report, Side.LABEL)] == ["label-print-alone"]

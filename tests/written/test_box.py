"""The box found and read on whole drawn cards, by hands and faces that were never trained on
(`sample_scans/README.md`); what a person reads in each is in the manifest."""

from __future__ import annotations

import csv
from pathlib import Path

import cv2
import numpy as np
import pytest

from pairing.judge.box import decide
from pairing.model import Quad, Role, TrackingNumber, Verdict
from pairing.numbers import identify
from pairing.photos.barcodes.symbols import read_symbols
from pairing.photos.files import frames
from pairing.photos.written import Reader, Unread, digit_quads, read_box, thresholds
from pairing.photos.written.box import BoxReading

SCANS = Path(__file__).resolve().parents[2] / "sample_scans"
PIECES = {row["piece"]: row for row in csv.DictReader((SCANS / "manifest.csv").open())}


@pytest.fixture(scope="module")
def reader() -> Reader:
    return Reader.load()


def _photo(piece: str) -> tuple[np.ndarray, Quad]:
    name = next(name for name in PIECES[piece]["photos"].split(";") if "label" not in name)
    gray = next(iter(frames(SCANS / name.strip()))).gray
    for symbol in read_symbols(gray).symbols:
        number = identify(symbol.text, aim=symbol.aim)
        if isinstance(number, TrackingNumber) and number.role is Role.CARD:
            return gray, symbol.quad
    pytest.fail("the card's own barcode was not read")


def _box(piece: str, reader: Reader) -> BoxReading:
    return read_box(*_photo(piece), reader)


def _verdict(piece: str, reader: Reader) -> Verdict:
    box = _box(piece, reader)
    if box.line is None:
        return Verdict.UNREAD
    return decide(
        box.line, PIECES[piece]["article"], thresholds=thresholds(), group_sizes=(4,)
    ).verdict


@pytest.mark.parametrize("piece", ["0009", "0010", "0012", "0016", "0018", "0023", "0026", "0033"])
def test_what_stands_in_the_box_is_read(piece: str, reader: Reader) -> None:
    box = _box(piece, reader)
    assert box.line is not None
    assert box.line.best == PIECES[piece]["box"]
    assert len(digit_quads(box)) == len(box.line.best)


@pytest.mark.parametrize(
    "piece", [name for name, row in PIECES.items() if row["verdict_when_read"] == "differs"]
)
def test_no_trap_ever_agrees(piece: str, reader: Reader) -> None:
    assert _verdict(piece, reader) is not Verdict.AGREES


def test_an_empty_box_is_empty(reader: Reader) -> None:
    assert _box("0030", reader).reason is Unread.EMPTY


def test_a_name_is_no_number(reader: Reader) -> None:
    assert _box("0031", reader).line is None


def test_upside_down_reads_the_same(reader: Reader) -> None:
    gray, quad = _photo("0010")
    high, wide = gray.shape
    turned = Quad(**{
        name: (wide - 1 - getattr(quad, name)[0], high - 1 - getattr(quad, name)[1])
        for name in ("top_left", "top_right", "bottom_right", "bottom_left")
    })  # fmt: skip
    box = read_box(np.asarray(cv2.rotate(gray, cv2.ROTATE_180)), turned, reader)
    assert box.line is not None
    assert box.line.best == PIECES["0010"]["box"]

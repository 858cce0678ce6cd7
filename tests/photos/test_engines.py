"""Both engines say the same of symbols that other libraries drew."""

from __future__ import annotations

import os
import sys

import numpy as np
import pytest
import zxingcpp

from pairing.model import GS
from pairing.photos.barcodes import engines
from pairing.photos.barcodes.hushed import zbar_hushed
from tests.photos.drawing import picture, python_barcode_modules, reportlab_modules

# Published numbers: IBM/AFP BCOCA reference (Code 128 modifier X'06'); github
# jkeen/tracking_number_data.
IMPB = f"42012345{GS}9374890100000003985039"
CERTIFIED = "71123456789123456787"


@pytest.fixture(scope="module")
def both() -> engines.Engines:
    loaded = engines.load_engines()
    if loaded.missing:
        pytest.skip(" ".join(loaded.missing))
    return loaded


@pytest.mark.parametrize("quarter_turns", [0, 1, 2, 3])
@pytest.mark.parametrize(
    ("text", "gs1", "drawn_by"),
    [
        (CERTIFIED, False, "reportlab"),
        (IMPB, True, "reportlab"),
        ("RR473124829US", False, "reportlab"),
        (CERTIFIED, False, "python-barcode"),
    ],
)
def test_same_text_from_both(
    both: engines.Engines, text: str, gs1: bool, drawn_by: str, quarter_turns: int
) -> None:
    modules = (
        reportlab_modules(text, gs1=gs1)
        if drawn_by == "reportlab"
        else python_barcode_modules(text)
    )
    gray = np.rot90(picture(modules), -quarter_turns)
    for engine in both.present:
        (one,) = engine.read(gray)
        assert one.text == text
        assert one.kind == "Code 128"
    assert [d.aim for d in both.present[0].read(gray)] == ["]C1" if gs1 else "]C0"]
    assert [d.aim for d in both.present[1].read(gray)] == [""]


@pytest.mark.parametrize("quarter_turns", [0, 1, 2, 3])
def test_zxing_reads_across_as_it_reads_along(quarter_turns: int) -> None:
    """The library's own look at columns (`try_rotate`) places the corners as we do."""
    gray = np.ascontiguousarray(np.rot90(picture(reportlab_modules(CERTIFIED)), -quarter_turns))
    (plain,) = zxingcpp.read_barcodes(gray)
    place = plain.position
    corners = (place.top_left, place.top_right, place.bottom_right, place.bottom_left)
    (ours,) = engines.ZxingEngine().read(gray)
    np.testing.assert_allclose(ours.points, [(p.x, p.y) for p in corners], atol=2)
    (flat,) = engines.ZxingEngine().read(picture(reportlab_modules(CERTIFIED)), is_flat=True)
    assert flat.text == CERTIFIED


def test_zbar_reads_what_zxing_writes(both: engines.Engines) -> None:
    image = zxingcpp.create_barcode(CERTIFIED, zxingcpp.BarcodeFormat.Code128).to_image(scale=3)
    gray = np.pad(np.array(image), 30, constant_values=255)
    assert both.zbar is not None
    assert [d.text for d in both.zbar.read(gray)] == [CERTIFIED]


def test_a_missing_zbar_is_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    def absent(_self: object) -> None:
        raise ImportError("Unable to find zbar shared library")  # pyzbar 0.1.9's words

    monkeypatch.setattr(engines.ZbarEngine, "__init__", absent)
    engines.load_engines.cache_clear()
    try:
        loaded = engines.load_engines()
    finally:
        engines.load_engines.cache_clear()
    assert loaded.zbar is None
    assert loaded.zxing is not None
    (sentence,) = loaded.missing
    assert "libzbar0" in sentence
    assert "package pyzbar" not in sentence  # it is installed


def test_zbars_noise_is_kept_from_standard_error(capfd: pytest.CaptureFixture[str]) -> None:
    with zbar_hushed():
        os.write(2, b'WARNING: decoder/code128.c:1: _zbar_decode_code128: Assertion "x" failed.\n')
        os.write(2, b"\ti=1 c=2\n")
        os.write(2, b"somebody else's line\n")
        print("and a print", file=sys.stderr)
    captured = capfd.readouterr()
    assert sorted(captured.err.splitlines()) == ["and a print", "somebody else's line"]

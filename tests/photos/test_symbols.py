"""One printed symbol is one `Symbol`, two are two, and nothing comes from nowhere."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
import zxingcpp

from pairing.model import Weight
from pairing.photos import engines, merging
from pairing.photos.places import length_px
from pairing.photos.symbols import read_symbols
from tests.photos.drawing import Gray, picture, reportlab_modules

PHOTOS = Path(__file__).parents[3] / "shared" / "photos"
CERTIFIED = "71123456789123456787"
CARD = "9590940258780038231151"  # a published card number (North Carolina DEQ record)


def shared(folder: str) -> list[Path]:
    found = sorted(p for p in (PHOTOS / folder).glob("*") if p.suffix != ".txt")
    if not found:
        pytest.skip(f"no reference photos: {PHOTOS / folder}")
    return found


def grey(path: Path) -> Gray:
    image = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
    assert image is not None
    return np.asarray(image, dtype=np.uint8)


@pytest.mark.parametrize("quarter_turns", [0, 1, 2, 3])
def test_one_symbol_with_two_witnesses(quarter_turns: int) -> None:
    gray = np.rot90(picture(reportlab_modules(CARD), x_px=3), -quarter_turns)
    report = read_symbols(gray)
    (symbol,) = report.symbols
    assert symbol.text == CARD
    assert symbol.aim == "]C0"
    assert {"zxing-cpp", "zbar"} <= set(symbol.witnesses)
    assert (symbol.angle_deg - 90 * quarter_turns + 180) % 360 - 180 == pytest.approx(0, abs=1)
    assert symbol.x_px == pytest.approx(3, rel=0.02)
    assert length_px(symbol.quad) == pytest.approx(3 * len(reportlab_modules(CARD)), abs=3)
    assert not report.conflicts


@pytest.mark.parametrize("gap_px", [40, 120, 400])
@pytest.mark.parametrize("second", [CERTIFIED, CARD])
@pytest.mark.parametrize("beside", [False, True])
def test_two_symbols_are_two(gap_px: int, second: str, beside: bool) -> None:
    # The same number twice is a label and the strip that repeats it.
    first, other = (picture(reportlab_modules(text)) for text in (CARD, second))
    axis = 1 if beside else 0
    width = max(first.shape[1], other.shape[1])
    parts = [
        np.pad(p, ((0, 0), (0, width - p.shape[1])), constant_values=255) for p in (first, other)
    ]
    gap = np.full_like(parts[0], 255)
    gap = gap[:, :gap_px] if beside else np.resize(gap, (gap_px, width))
    report = read_symbols(np.concatenate([parts[0], gap, parts[1]], axis=axis))
    assert sorted(s.text for s in report.symbols) == sorted([CARD, second])
    a, b = (s.quad.centre for s in report.symbols)
    assert abs(a[1 - axis] - b[1 - axis]) > gap_px


def test_two_in_one_scan() -> None:
    (path,) = shared("pyzbar_unit")
    report = read_symbols(grey(path))
    assert sorted(s.text for s in report.symbols) == ["Foramenifera", "Rana temporaria"]
    assert all({"zxing-cpp", "zbar"} <= set(s.witnesses) for s in report.symbols)
    assert not report.conflicts


@pytest.mark.parametrize(
    ("folder", "kinds"),
    [
        ("zxing_ean13-3", {"EAN-13"}),
        ("zxing_upca-3", {"UPC-A", "EAN-13"}),
        ("zxing_itf-1", {"ITF"}),
    ],
)
def test_other_symbologies_are_named(folder: str, kinds: set[str]) -> None:
    read = 0
    for path in shared(folder):
        report = read_symbols(grey(path))
        assert {s.kind for s in report.symbols} <= kinds, path
        read += len(report.symbols)
    assert read


def test_a_matrix_symbol_is_named() -> None:
    image = zxingcpp.create_barcode("12345678", zxingcpp.BarcodeFormat.QRCode).to_image(scale=6)
    (symbol,) = read_symbols(np.pad(np.array(image), 40, constant_values=255)).symbols
    assert symbol.kind.startswith("QR Code")
    assert symbol.aim.startswith("]Q")


@pytest.mark.parametrize("folder", ["neg_zxing_falsepositives", "neg_zxing_falsepositives-2"])
def test_nothing_comes_from_nothing(folder: str) -> None:
    for path in shared(folder):
        assert read_symbols(grey(path)).symbols == (), path


def _detection(engine: str, text: str, *points: tuple[float, float]) -> engines.Detection:
    return engines.Detection(
        engine=engine,
        text=text,
        aim="]C0" if engine == engines.ZXING else "",
        kind=engines.CODE_128,
        points=points,
        turn_deg=0,
    )


PLACE = ((100.0, 50.0), (400.0, 50.0), (400.0, 120.0), (100.0, 120.0))


def test_a_line_from_zbar_adds_no_symbol() -> None:
    lines: list[tuple[tuple[float, float], ...]] = [
        ((110.0, 80.0), (390.0, 80.0)),
        ((900.0, 80.0), (990.0, 80.0)),  # somewhere else: no witness of this symbol
        (),
    ]
    for line, counts in zip(lines, (True, False, True), strict=True):
        symbols, conflicts = merging.merge_detections(
            [_detection("zxing-cpp", "123456", *PLACE), _detection("zbar", "123456", *line)]
        )
        assert len(symbols) == 1
        assert symbols[0].witnesses == (("zxing-cpp", "zbar") if counts else ("zxing-cpp",))
        assert not conflicts


def test_one_hull_over_two_symbols_witnesses_both() -> None:
    below = tuple((x, y + 300) for x, y in PLACE)
    hull = (PLACE[0], PLACE[1], below[2], below[3])
    symbols, _ = merging.merge_detections(
        [
            _detection("zxing-cpp", "123456", *PLACE),
            _detection("zxing-cpp", "123456", *below),
            _detection("zbar", "123456", *hull),
        ]
    )
    assert [s.witnesses for s in symbols] == [("zxing-cpp", "zbar")] * 2


def test_a_disagreement_is_no_symbol() -> None:
    symbols, conflicts = merging.merge_detections(
        [_detection("zxing-cpp", "123456", *PLACE), _detection("zbar", "123457", *PLACE)]
    )
    assert symbols == ()
    (conflict,) = conflicts
    assert conflict.code == "engines-disagree"
    assert conflict.weight is Weight.DOUBT
    assert "'123456'" in conflict.message
    assert "'123457'" in conflict.message


def test_zbar_alone_is_a_symbol_with_one_witness() -> None:
    (symbol,), _ = merging.merge_detections([_detection("zbar", "123456", *PLACE)])
    assert symbol.witnesses == ("zbar",)
    assert symbol.angle_deg == pytest.approx(0)

"""One printed symbol is one `Symbol`, two are two, and nothing comes from nowhere."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
import zxingcpp

from pairing.photos.barcodes import engines
from pairing.photos.barcodes.quads import length_px
from pairing.photos.barcodes.symbols import read_symbols
from tests.benchmarks.decode_damage import Scene, drawn, random_number
from tests.benchmarks.decode_wrong import damaged
from tests.photos.drawing import Gray, picture, reportlab_modules, turned

PHOTOS = Path(__file__).parents[3] / "shared" / "photos"
CERTIFIED = "71123456789123456787"
CARD = "9590940258780038231151"  # a published card number (North Carolina DEQ record)


def shared(folder: str) -> list[Path]:
    found = sorted(p for p in (PHOTOS / folder).glob("*") if p.suffix != ".txt")
    if not found:
        pytest.skip(f"no reference photos: {PHOTOS / folder}")
    return found


def gray(path: Path) -> Gray:
    image = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
    assert image is not None
    return np.asarray(image, dtype=np.uint8)


@pytest.mark.usefixtures("both_decoders")
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
    a, b = (s.quad.center for s in report.symbols)
    assert abs(a[1 - axis] - b[1 - axis]) > gap_px


def test_a_symbol_cut_up_by_streaks_is_one() -> None:
    """Seen in part by one decoder, on the whole by the other: no label with its strip."""
    scene = Scene(lost_rows=0.7)
    for seed in range(4):  # the fourth was once read as two
        rng = np.random.default_rng([seed, 700, 26])
        text, gs1 = random_number(rng)
        report = read_symbols(drawn(text, gs1, scene, rng))
        assert [s.text for s in report.symbols] == [text]


@pytest.mark.usefixtures("both_decoders")
def test_a_tall_symbol_turned_is_one() -> None:
    """zxing-cpp sees a level slice of it; what lies above and below is no second symbol."""
    (path,) = (p for p in shared("zxing_code128-2") if p.name == "08.png")
    report = read_symbols(turned(gray(path), 10))
    assert [s.text for s in report.symbols] == ["15182881"]


@pytest.mark.usefixtures("both_decoders")
def test_two_in_one_scan() -> None:
    (path,) = shared("pyzbar_unit")
    report = read_symbols(gray(path))
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
    for path in shared(folder)[::2]:  # all of them: tests/benchmarks/decode.py
        report = read_symbols(gray(path))
        assert {s.kind for s in report.symbols} <= kinds, path
        read += len(report.symbols)
    assert read


@pytest.mark.parametrize("frame_modules", [0, 2])
def test_other_bars_up_to_a_frame_are_named(frame_modules: int) -> None:
    """EAN-13 with its quiet zones, 11 X and 7 X (GS1 General Specifications), and a frame."""
    code = zxingcpp.create_barcode("4006381333931", zxingcpp.BarcodeFormat.EAN13)
    image = np.array(code.to_image(scale=1, add_quiet_zones=False))
    row = np.pad(image[image.shape[0] // 2], (11, 7), constant_values=255)
    row = np.pad(row, frame_modules, constant_values=0)
    lines = np.repeat(np.repeat(row[None], 60, axis=0), 3, axis=1)
    (symbol,) = read_symbols(np.pad(lines, 40, constant_values=255)).symbols
    assert (symbol.kind, symbol.text) == ("EAN-13", "4006381333931")


def test_a_piece_of_bars_is_no_symbol_of_another_kind() -> None:
    """zxing-cpp reads bars from the middle of this number as an EAN-13, check digit and all."""
    text, _, picture = damaged(305594)
    assert any(d.kind == "EAN-13" for d in engines.ZxingEngine().read(picture))
    assert [s.text for s in read_symbols(picture).symbols] == [text]


def test_a_matrix_symbol_is_named() -> None:
    image = zxingcpp.create_barcode("12345678", zxingcpp.BarcodeFormat.QRCode).to_image(scale=6)
    (symbol,) = read_symbols(np.pad(np.array(image), 40, constant_values=255)).symbols
    assert symbol.kind.startswith("QR Code")
    assert symbol.aim.startswith("]Q")


@pytest.mark.parametrize("folder", ["neg_zxing_falsepositives", "neg_zxing_falsepositives-2"])
def test_nothing_comes_from_nothing(folder: str) -> None:
    for path in shared(folder)[::2]:  # all of them: tests/benchmarks/decode.py
        assert read_symbols(gray(path)).symbols == (), path


@pytest.mark.parametrize("damage", ["glare", "line", "crease"])
def test_one_interrupted_symbol_stays_one(damage: str) -> None:
    """What interrupts a printed symbol does not make a second one of it."""
    gray = picture(reportlab_modules(CARD), x_px=4, height_px=240).astype(np.float64)
    gray = 30 + gray * (190 / 255)
    rows = np.arange(len(gray))[:, None]
    middle = len(gray) / 2
    if damage == "glare":  # washes out 20 X over the whole width, with soft borders
        gray = gray + 255 / (1 + (np.abs(rows - middle) / 40) ** 6)
    elif damage == "line":  # a dead printer dot in a ladder print
        gray[np.abs(rows - middle)[:, 0] < 2] = 220
    else:
        gray = gray * (1 - 0.95 * np.exp(-(((rows - middle) / 25) ** 2)))
    report = read_symbols(np.clip(gray, 0, 255).astype(np.uint8))
    assert [s.text for s in report.symbols] == [CARD]


# zxing's and quagga2's own listings give the texts (the .txt files beside the photos).
@pytest.mark.parametrize(
    ("photo", "angle_deg"),
    [
        ("quagga2_code128/image-001.jpg", 0),  # tilted: neither engine reads it as it is
        ("quagga2_code128/image-003.jpg", 0),
        ("quagga2_code128/image-005.jpg", 0),  # enlarged, zxing-cpp reads it wrongly
        ("quagga2_code128/image-005.jpg", 45),
        ("zxing_code128-2/04.webp", 30),
        ("zxing_code128-2/28.webp", 30),
        ("zxing_code128-2/36.webp", 45),
        ("zxing_code128-2/38.webp", 45),  # two symbols, one above the other
    ],
)
def test_hard_photos(photo: str, angle_deg: float) -> None:
    path = PHOTOS / photo
    if not path.exists():
        pytest.skip(f"no reference photo: {path}")
    report = read_symbols(turned(gray(path), angle_deg) if angle_deg else gray(path))
    truth = path.with_suffix(".txt").read_text(encoding="utf-8").strip()
    assert [s.text for s in report.symbols if s.kind == "Code 128"] == [truth]


@pytest.mark.parametrize("seed", [2024, 2376, 11150, 26837, 28743])
def test_no_number_is_cut_short_or_drawn_out(seed: int) -> None:
    """Drawings on which a character chain began inside, or ran on behind, the symbol."""
    text, _, gray = damaged(seed)
    assert {s.text for s in read_symbols(gray).symbols} <= {text}


@pytest.mark.parametrize(
    "seed",
    [
        701490,  # our own reader's alone: nine characters, of which three are controls
        701822,  # zxing-cpp's alone, in both bands: another number whose check digit holds
    ],
)
def test_one_readers_bands_that_err_alike_are_no_reading(seed: int) -> None:
    text, _, gray = damaged(seed)
    assert {s.text for s in read_symbols(gray).symbols} <= {text}


def test_an_engine_that_our_own_reader_contradicts_is_told() -> None:
    text, _, gray = damaged(701822)
    (finding,) = read_symbols(gray).conflicts
    assert finding.code == "engines-disagree"
    assert text in str(dict(finding.parameters)["readings"])


def test_reads_through_blur_with_bands_as_witnesses() -> None:
    text = "9400111201080805483016"
    gray = drawn(text, True, Scene(defocus_radius_x=1.2), np.random.default_rng(0))
    for engine in engines.load_engines().present:
        assert engine.read(gray) == ()
    (symbol,) = read_symbols(gray).symbols
    assert (symbol.text, symbol.aim) == (text, "]C1")
    assert symbol.witnesses == ("profile", "profile, upper band", "profile, lower band")
    assert symbol.x_px == pytest.approx(2.5, rel=0.03)


@pytest.mark.parametrize("absent", ["zxing", "zbar"])
def test_one_engine_and_our_reader_are_enough(absent: str, monkeypatch: pytest.MonkeyPatch) -> None:
    loaded = engines.load_engines()
    left = engines.Engines(
        zxing=None if absent == "zxing" else loaded.zxing,
        zbar=None if absent == "zbar" else loaded.zbar,
        missing=(f"No {absent}.",),
    )
    monkeypatch.setattr("pairing.photos.barcodes.symbols.load_engines", lambda: left)
    report = read_symbols(picture(reportlab_modules(CARD), x_px=3))
    assert [s.text for s in report.symbols] == [CARD]
    assert len(report.symbols[0].witnesses) >= 2
    assert report.missing == (f"No {absent}.",)


@pytest.mark.parametrize("angle_deg", [20, -33, 160])
def test_a_small_symbol_in_a_large_frame(angle_deg: float) -> None:
    text = "9400111201080805483016"
    rng = np.random.default_rng(0)
    frame = np.clip(rng.normal(180, 3, (3000, 4000)), 0, 255).astype(np.uint8)
    symbol = turned(picture(reportlab_modules(text), x_px=2, height_px=60), angle_deg)
    height, width = symbol.shape
    frame[1700 : 1700 + height, 2600 : 2600 + width] = np.minimum(symbol, 180)
    (found,) = read_symbols(frame).symbols
    assert found.text == text
    assert (found.angle_deg - angle_deg + 180) % 360 - 180 == pytest.approx(0, abs=2)
    assert found.x_px == pytest.approx(2, rel=0.04)
    assert found.quad.center[0] == pytest.approx(2600 + width / 2, abs=8)
    assert found.quad.center[1] == pytest.approx(1700 + height / 2, abs=8)

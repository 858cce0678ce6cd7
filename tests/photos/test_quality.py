"""Print estimates against pictures whose values can be worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from pairing.findings import Code, Finding
from pairing.model import Symbol
from pairing.photos.barcodes.quality import PrintEstimate, estimate_print
from pairing.photos.barcodes.symbols import read_symbols
from tests.photos.drawing import Gray, reportlab_modules

NUMBER = "9590940258780038231151"
X_PX = 8
MARGIN_PX = 14 * X_PX


def drawn(row: np.ndarray, *, dark: int = 20, light: int = 240) -> Gray:
    bars = np.where(row, dark, light).astype(np.uint8)
    padded = np.pad(bars, MARGIN_PX, constant_values=light)
    block = np.repeat(padded[None], 240, axis=0)
    return np.pad(block, ((MARGIN_PX, MARGIN_PX), (0, 0)), constant_values=light)


def clean_row() -> np.ndarray:
    return np.repeat(reportlab_modules(NUMBER), X_PX)


def estimate(gray: Gray, symbol: Symbol | None = None) -> PrintEstimate:
    symbol = symbol or read_symbols(gray).symbols[0]
    found = estimate_print(gray, symbol)
    assert found is not None
    return found


@pytest.mark.parametrize(
    # Symbol contrast is (light - dark) / 255; its grade is from the 2000 table
    # (standards: 70, 55, 40, 20 %). 128/204: the dark is above half the light, grade 0.
    ("dark", "light", "grade"),
    [(20, 240, 4), (76, 240, 3), (102, 210, 2), (80, 166, 1), (128, 204, 0)],
)
def test_contrast_grades(dark: int, light: int, grade: int) -> None:
    found = estimate(drawn(clean_row(), dark=dark, light=light))
    assert found.grade == grade
    for scan in found.scans:
        assert scan.symbol_contrast == pytest.approx((light - dark) / 255, abs=0.005)
        assert scan.modulation == pytest.approx(1, abs=0.02)
        assert scan.defects == pytest.approx(0, abs=0.01)


def test_even_gain_costs_no_decodability() -> None:
    """All bars one pixel wider: every edge-to-similar-edge distance stays whole."""
    row = np.pad(clean_row(), (1, 0))
    found = estimate(drawn(row | np.roll(row, -1)))
    assert min(s.decodability for s in found.scans) > 0.93


def test_a_moved_edge_costs_its_share() -> None:
    """One edge moved by a quarter X: half of the half-module room is used up."""
    modules = reportlab_modules(NUMBER)
    row = clean_row()
    # The end of the first bar of the sixth character (55 modules in).
    end = 55 + int(np.flatnonzero(~modules[55:])[0])
    row[end * X_PX : end * X_PX + X_PX // 4] = True
    found = estimate(drawn(row))
    assert found.scans[0].decodability == pytest.approx(0.5, abs=0.08)


def test_a_void_is_a_defect() -> None:
    """A gray streak in the middle of a wide bar: its height over the contrast."""
    modules = reportlab_modules(NUMBER)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], modules.astype(int), [0]))))
    starts, ends = edges[::2], edges[1::2]
    widest = int(np.argmax(ends - starts))
    assert ends[widest] - starts[widest] >= 3
    gray = drawn(clean_row())
    middle = MARGIN_PX + (starts[widest] + ends[widest]) * X_PX // 2
    symbol = read_symbols(gray).symbols[0]
    spoiled = gray.copy()
    spoiled[MARGIN_PX:-MARGIN_PX, middle - X_PX // 2 : middle + X_PX // 2] = 75  # 55 of 220
    found = estimate(spoiled, symbol)
    assert found.scans[0].defects == pytest.approx(55 / 220, abs=0.05)
    assert found.grade < estimate(gray, symbol).grade
    assert found.weakest == "defects"


def test_print_in_the_quiet_zone_fails() -> None:
    gray = drawn(clean_row())
    symbol = read_symbols(gray).symbols[0]
    gray[:, MARGIN_PX - 6 * X_PX : MARGIN_PX - 5 * X_PX] = 20
    found = estimate(gray, symbol)
    assert (found.grade, found.letter) == (0.0, "F")
    assert not any(s.is_quiet_zone_clear for s in found.scans)


def test_it_is_called_an_estimate() -> None:
    found = estimate(drawn(clean_row()))
    said = Finding.of(
        Code.LABEL_PRINT_FAILING,
        grade=f"{found.grade:.1f}",
        letter=found.letter,
        weakest=found.weakest,
    )
    assert "estimated" in said.message
    assert "not a certified" in said.message

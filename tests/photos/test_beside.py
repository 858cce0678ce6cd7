"""Other symbols of a photo in which one was read: as small as half its X, with print close by.
Bars by reportlab; the paper around them invented."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from pairing.model import Quad
from pairing.photos.barcodes import decoding, search
from pairing.photos.barcodes.engines import Engines
from pairing.photos.barcodes.quads import contains
from pairing.photos.barcodes.symbols import read_symbols
from tests.benchmarks import decode_scenes
from tests.photos.drawing import Gray, picture, reportlab_modules, turned

LABEL = "70191640000008004105"  # public record, retail label
CARD = "9590940212345678901239"


def strip(text: str, *, x_px: int, high_px: int) -> Gray:
    """Low bars with their number printed close under them, as on a strip."""
    bars = picture(reportlab_modules(text), x_px=x_px, height_px=high_px, quiet_modules=6)
    room = np.full((13 * x_px, bars.shape[1]), 255, np.uint8)
    paper = np.vstack([bars[: -6 * x_px + 2], room])
    at = (8 * x_px, paper.shape[0] - 3 * x_px)
    cv2.putText(paper, " ".join(text), at, cv2.FONT_HERSHEY_SIMPLEX, 0.29 * x_px, 0, x_px // 2 + 1)
    return paper


def table(*sheets: tuple[Gray, int, int]) -> Gray:
    """Sheets laid on brushed metal, whose grain runs in one direction as bars do."""
    rng = np.random.default_rng(3)
    grain = cv2.GaussianBlur(rng.normal(0, 60, (1500, 2000)).astype(np.float32), (0, 0), 1.0)
    metal = 140 + cv2.blur(grain, (1, 61))
    photo = np.clip(metal, 0, 255).astype(np.uint8)
    for sheet, x, y in sheets:
        photo[y : y + sheet.shape[0], x : x + sheet.shape[1]] = sheet
    return np.asarray(cv2.GaussianBlur(photo, (0, 0), 1.0), np.uint8)


def test_a_symbol_of_half_the_x_beside_a_label() -> None:
    label = picture(reportlab_modules(LABEL), x_px=5, height_px=220)
    card = turned(strip(CARD, x_px=3, high_px=80), 14)
    photo = table((label, 60, 80), (card, 900, 700))
    found = {symbol.text: symbol for symbol in read_symbols(photo).symbols}
    assert set(found) == {LABEL, CARD}
    assert found[CARD].is_measured
    assert abs(found[CARD].x_px - 3) < 0.2


def test_bars_are_read_before_grain_and_print(monkeypatch: pytest.MonkeyPatch) -> None:
    """Half the processor's time went to places that hold nothing: they wait for likely ones."""
    asked: list[Quad] = []

    def read_quickly(gray: Gray, quad: Quad, engines: Engines) -> decoding.QuickRead:
        asked.append(quad)
        return decoding.read_quickly(gray, quad, engines)

    monkeypatch.setattr(search, "read_quickly", read_quickly)
    card = turned(strip(CARD, x_px=4, high_px=110), 33)  # no engine sees it in the whole photo
    photo = table((card, 500, 300))
    (symbol,) = read_symbols(photo).symbols
    assert symbol.text == CARD
    assert contains(symbol.quad, asked[0].center)


def test_bars_are_parted_from_the_print_under_them() -> None:
    card = strip(CARD, x_px=4, high_px=130)
    low = turned(strip(LABEL, x_px=3, high_px=48), 11)
    photo = table((card, 300, 200), (low, 330, 640))
    found = [symbol.text for symbol in read_symbols(photo).symbols]
    assert sorted(found) == sorted([CARD, LABEL])


def test_words_beside_a_symbol_are_told_and_not_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    """A line of words shows parallel edges, but fewer than any number's bars."""
    scene = decode_scenes.scene(decode_scenes.TRIED, "phone", 7, 11)
    tried: list[Quad] = []

    def noted(gray: Gray, quad: Quad, engines: Engines) -> decoding.QuickRead:
        tried.append(quad)
        return decoding.read_quickly(gray, quad, engines)

    monkeypatch.setattr(search, "read_quickly", noted)
    report = read_symbols(scene.gray)
    assert [s.text for s in report.symbols] == [scene.article]
    assert report.unread
    assert not tried

"""A strip with bars on a card whose form nobody taught: where it may lie, and what is no strip.

Common practice, no source: a strip is a slip of paper of its own pasted on the
card. Cards and photos are drawn by `tests/benchmarks/designs.py`.
"""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from pairing.demo.paper import grouped
from pairing.demo.sheet import BOLD, PX_PER_MM, Sheet, bar_modules
from pairing.judge.box import Unread
from pairing.model import How, Quad, Reading, Side, Symbol, Verdict
from pairing.numbers import identify
from pairing.photos.barcodes import card as cards
from pairing.photos.barcodes.symbols import read_symbols
from pairing.photos.forms import folder
from pairing.photos.written.box import BoxReading
from pairing.photos.written.ink_rows import tall_of
from pairing.photos.written.one_sheet import share_on_sheet
from pairing.photos.written.pasted_slip import EVERY_SIDE, slip_on_card
from pairing.photos.written.plane import PX_PER_MM as MM_PX
from pairing.photos.written.reader import WrittenLine
from pairing.photos.written.region import content_of
from pairing.pieces.beside_strip import _Around, _is_high_print
from pairing.pieces.photo_groups import Photo
from pairing.pieces.placed import Placed
from pairing.pieces.reading import read_photo
from pairing.pieces.strips import why_not_strip
from tests.benchmarks import decode_scenes
from tests.benchmarks.alterations import altered_card, altered_on
from tests.benchmarks.card_photos import photographed
from tests.benchmarks.designs import DESIGNS
from tests.benchmarks.drawn_cards import card_to_fill, fill_in
from tests.benchmarks.drawn_designs import drawn
from tests.benchmarks.taught import outcome
from tests.forms import small_photos
from tests.written.made_lines import straight, surely_read
from tests.written.test_form_words import region

_GREEN, _WHITE = (221, 238, 221), (248, 248, 246)


@pytest.mark.parametrize("name", ["line", "beside", "comb"])
def test_a_strip_is_read_where_no_rules_enclose_it_or_not_below_the_bars(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.setenv(folder.VARIABLE, os.fspath(tmp_path))
    rng = np.random.default_rng(41)
    card = card_to_fill(DESIGNS[name], rng)
    fill_in(card, "strip_barcode")
    jpeg, _ = small_photos.photographed(card.sheet, "phone", rng)
    assert outcome(jpeg, card.article, card.card, tmp_path).verdict is Verdict.AGREES


@pytest.mark.parametrize(("level", "number"), [("phone", 10), ("one", 31)])
def test_a_caption_or_a_frame_near_a_strip_speaks_not_against_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, level: str, number: int
) -> None:
    """Drawn by `decode_scenes`: the box's caption is as high beside the strip's short bars as
    digits beside long ones; its side stands where print under longer bars would go on."""
    monkeypatch.setenv(folder.VARIABLE, os.fspath(tmp_path))
    scene = decode_scenes.scene(decode_scenes.TRIED, level, number, seed=21)
    path = tmp_path / "scene.png"
    cv2.imwrite(os.fspath(path), scene.gray)
    shows = None if level == "one" else Side.CARD
    (frame,) = read_photo(Photo(path=path, shows=shows)).frames
    assert scene.strip in {one.number.text for one in frame.readings if one.side is Side.BOX}


@pytest.mark.parametrize("seed", [6, 22])
def test_what_the_forms_rules_part_from_it_is_not_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    """A strip over the box's lower rule, and one beside a column of check boxes."""
    monkeypatch.setenv(folder.VARIABLE, os.fspath(tmp_path))
    rng = np.random.default_rng(seed)
    card = card_to_fill(drawn(seed), rng)
    fill_in(card, "strip_barcode")
    jpeg, _ = small_photos.photographed(card.sheet, "phone", rng)
    assert outcome(jpeg, card.article, card.card, tmp_path).verdict is Verdict.AGREES


def test_joined_digits_that_touch_a_rule_are_writing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(folder.VARIABLE, os.fspath(tmp_path))
    card = altered_on("hand_beside_strip", drawn(214), 214, by_people=False)
    jpeg, _ = small_photos.photographed(card.sheet, "phone", card.rng)
    assert outcome(jpeg, card.article, card.card, tmp_path).verdict is Verdict.UNREAD


@pytest.mark.parametrize(
    ("kind", "name", "seed"),
    [
        ("hand_beside_strip", "portrait", 301), ("hand_beside_strip", "beside", 301),
        ("bars_print_struck", "portrait", 703),
    ],
)  # fmt: skip
def test_nothing_may_be_written_beside_it_or_over_its_print(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str, name: str, seed: int
) -> None:
    monkeypatch.setenv(folder.VARIABLE, os.fspath(tmp_path))
    card = altered_card(kind, name, seed)
    jpeg, _ = photographed(card.sheet, "phone", card.rng)
    assert outcome(jpeg, card.article, card.card, tmp_path).verdict is Verdict.UNREAD


def _photo(stock: tuple[int, int, int], *, torn_mm: float = 0.0) -> tuple[np.ndarray, Quad]:
    """A strip on a card of that stock, and its bars; torn_mm: from there down the card is gone,
    and what is seen is a white label on a dark table."""
    modules = bar_modules("70639990036366191093", gs1=False)
    strip = Sheet(width_mm=len(modules) * 0.3 + 7, height_mm=9.0, stock=_WHITE)
    strip.bars(3.5, 0.6, modules, module_mm=0.3, height_mm=5.3)
    card = Sheet(width_mm=90.0, height_mm=40.0, stock=stock)
    card.paste(strip, x_mm=45.0, y_mm=20.0, angle_deg=0.0)
    pixels = np.clip(card.pixels, 0, 255).astype(np.uint8)
    if torn_mm:
        kept = pixels.copy()
        pixels[round(torn_mm * PX_PER_MM) :] = _WHITE
        top, left = round(15.5 * PX_PER_MM), round((45 - strip.width_mm / 2) * PX_PER_MM)
        pixels[top : top + round(9 * PX_PER_MM), left:-left] = kept[
            top : top + round(9 * PX_PER_MM), left:-left
        ]
    gray = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    gray = cv2.resize(
        gray, None, fx=12 / PX_PER_MM, fy=12 / PX_PER_MM, interpolation=cv2.INTER_AREA
    )
    left_px, top_px = 12 * (45 - len(modules) * 0.15), 12 * (15.5 + 0.6)
    right_px, foot_px = 12 * (45 + len(modules) * 0.15), 12 * (15.5 + 5.9)
    quad = Quad(
        top_left=(left_px, top_px), top_right=(right_px, top_px),
        bottom_right=(right_px, foot_px), bottom_left=(left_px, foot_px),
    )  # fmt: skip
    return np.asarray(gray, np.uint8), quad


def test_a_slip_ends_on_the_card_on_all_sides() -> None:
    assert slip_on_card(*_photo(_GREEN)).sides == EVERY_SIDE


def test_nothing_is_told_of_white_paper_on_white() -> None:
    assert slip_on_card(*_photo(_WHITE)).sides < EVERY_SIDE


def test_what_shows_of_a_label_under_a_torn_card_does_not() -> None:
    assert not slip_on_card(*_photo(_GREEN, torn_mm=15.5)).sides


def test_bars_without_height_end_nowhere() -> None:
    photo, bars = _photo(_GREEN)
    low = replace(bars, bottom_left=_below(bars.top_left), bottom_right=_below(bars.top_right))
    assert not slip_on_card(photo, low).sides


def _below(corner: tuple[float, float]) -> tuple[float, float]:
    return corner[0], corner[1] + 1.0


def _standing(x_px: float, height_px: float, *, high_x: float) -> cards.Standing:
    wide = 140 * x_px
    quad = Quad(
        top_left=(0, 0), top_right=(wide, 0), bottom_right=(wide, height_px),
        bottom_left=(0, height_px),
    )  # fmt: skip
    symbol = Symbol(text="", aim="", kind="Code 128", quad=quad, angle_deg=0.0, x_px=x_px,
                    witnesses=(), is_measured=True)  # fmt: skip
    return cards.Standing(symbol=symbol, height_x=high_x)


def test_bars_are_low_by_the_x_of_the_card_too() -> None:
    """BCOCA and UPU S10-12 section 8: a label's bars are 12.5 mm high and more, and no narrow bar
    is wider than 0.53 mm. A strip of 0.25 mm by 6 mm has 24 X of its own."""
    strip = _standing(2.5, 60.0, high_x=24.0)
    card = _standing(3.3, 110.0, high_x=33.0).symbol
    assert cards.is_low(strip, card)
    assert not cards.is_low(strip, None)
    label = _standing(2.5, 125.0, high_x=50.0)
    assert not cards.is_low(label, card)


def test_bars_of_a_doubtful_height_may_be_a_strips_beside_a_card() -> None:
    """A strip of 8 mm, narrow bar 0.3 mm, has 26.7 X, and so has a label of 12.5 mm with a narrow
    bar of 0.47 mm (UPU S10-12 section 8): only its place tells."""
    card = _standing(3.3, 110.0, high_x=33.0).symbol
    assert cards.may_be_low(_standing(3.0, 80.0, high_x=26.7), card)
    assert not cards.may_be_low(_standing(3.3, 92.0, high_x=28.0), card)
    assert not cards.may_be_low(_standing(3.0, 80.0, high_x=0.0), card)


def _own_and_other(gray: np.ndarray, card: str) -> tuple[Symbol, Symbol]:
    found = read_symbols(np.asarray(gray, np.uint8)).symbols
    (own,) = (one for one in found if one.text == card)
    (other,) = (one for one in found if one.text != card)
    return own, other


def test_a_strip_nearly_as_tall_as_a_label_is_read_on_the_cards_own_paper(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(folder.VARIABLE, os.fspath(tmp_path))
    rng = np.random.default_rng(11)
    card = card_to_fill(drawn(2011), rng)
    card.strip(grouped(card.article), bars=card.article, high_mm=12.5)
    jpeg, _ = small_photos.photographed(card.sheet, "phone", rng)
    assert outcome(jpeg, card.article, card.card, tmp_path).verdict is Verdict.AGREES


@pytest.mark.parametrize("envelope", [(196, 164, 120), (252, 252, 250)])
def test_a_label_on_an_envelope_that_a_card_lies_on_is_not_on_the_cards_paper(
    envelope: tuple[int, int, int],
) -> None:
    """The sides of its paper end on the envelope as a slip's do on a card. On an envelope as light
    as the card the height of its bars alone tells."""
    rng = np.random.default_rng(12)
    card = card_to_fill(drawn(2011), rng)
    wide, high = drawn(2011).size
    scene = Sheet(width_mm=wide + 20, height_mm=high + 40, stock=envelope)
    modules = bar_modules(card.article, gs1=False)
    label = Sheet(width_mm=len(modules) * 0.3 + 10, height_mm=22.0, stock=_WHITE)
    label.bars(5.0, 2.5, modules, module_mm=0.3, height_mm=13.0)
    scene.paste(label, x_mm=wide / 2, y_mm=high + 24.0, angle_deg=0.5)
    scene.paste(card.sheet, x_mm=10 + wide / 2, y_mm=6 + high / 2, angle_deg=0.0)
    jpeg, _ = photographed(scene, "phone", rng)
    gray = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert gray is not None
    own, other = _own_and_other(gray, card.card)
    beyond = slip_on_card(np.asarray(gray, np.uint8), other.quad).beyond
    assert share_on_sheet(np.asarray(gray, np.uint8), own.quad, beyond) < 0.3
    standing = cards.Standing(symbol=other, height_x=40.0)
    assert not cards.is_under_label(standing, own)


@pytest.mark.parametrize(("text", "is_told"), [("RETURN RECEIPT", True), ("4567 8470 1234", False)])
def test_high_rows_beside_a_strip_are_print_only_where_both_networks_see_it(
    text: str, is_told: bool
) -> None:
    """Bold letters of 2.2 mm that ran together look 2.4 mm high and more."""
    around = region(text, 2.2, BOLD, blur_px=2.6)
    content = content_of(around)
    row = min(content.rows, key=lambda one: one[0][1])
    assert tall_of(row) > 2.4 * MM_PX
    pool = [mark for one in content.rows for mark in one] + [*content.left_over, *content.small]
    paper = _Around(region=around, card=None)
    assert _is_high_print(around.plane.gray, paper, content, row, pool) is is_told


@pytest.mark.parametrize(
    ("printed", "reason"),
    [("706399900363661910931", Unread.OTHER_WRITING), ("70639990036366191098", None)],
)
def test_a_character_more_in_its_print_is_not_called_another_number(
    printed: str, reason: Unread | None
) -> None:
    """A comb's corner beside the strip reads like a 1; another digit is told as one."""
    photo, bars = _photo(_GREEN)
    text = "70639990036366191093"
    number = identify(text)
    symbol = Symbol(text=text, aim="", kind="Code 128", quad=bars, angle_deg=0.0, x_px=3.6,
                    witnesses=(), is_measured=True)  # fmt: skip
    reading = Reading(side=Side.BOX, how=How.BARCODE, number=number, source="", quad=bars)
    strip = Placed(standing=cards.Standing(symbol=symbol, height_x=16.0), reading=reading)
    chances, line = surely_read(printed), straight()
    read = BoxReading(line=WrittenLine([chances]), reason=None, lines=(line,), used=(line,))
    assert why_not_strip(photo, strip, read) is reason

"""Forms taught from a photo and found again, on cards drawn by parameters
(`tests/benchmarks/designs.py`; hands never trained on). What is written in each card is known
because it was drawn; no verdict here comes from the program's own reading."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import fields, replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import cv2
import numpy as np
import pytest
from click.testing import CliRunner

from counterfoil.main import cli
from pairing import output
from pairing.demo.sheet import PX_PER_MM
from pairing.errors import CounterfoilError
from pairing.model import Verdict
from pairing.photos.finder.number_lines import Proposal
from pairing.photos.forms import folder
from pairing.photos.forms.definition import SUFFIX, Form, checked, read_form
from pairing.photos.forms.registration import registered
from pairing.photos.written.box import BoxReading
from pairing.photos.written.box_lines import Line
from pairing.photos.written.plane import mapped
from pairing.pieces import known_form
from tests.benchmarks.alterations import altered_card
from tests.benchmarks.card_photos import corners, photographed, taught
from tests.benchmarks.designs import DESIGNS
from tests.benchmarks.drawn_cards import card_to_fill, fill_in
from tests.benchmarks.taught import outcome, teach
from tests.forms import small_photos

NAMES = ("grid", "line")


@pytest.fixture(scope="module")
def office(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A folder with the forms of two designs."""
    place = tmp_path_factory.mktemp("office")
    before = os.environ[folder.VARIABLE]
    teach([DESIGNS[name] for name in NAMES], place)
    yield place
    os.environ[folder.VARIABLE] = before


def gray(jpeg: bytes) -> np.ndarray:
    picture = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert picture is not None
    return np.asarray(picture, np.uint8)


@cache
def photo_of(name: str, mode: str, level: str = "phone", seed: int = 3) -> tuple[bytes, str, str]:
    rng = np.random.default_rng([seed, *name.encode(), *mode.encode()])
    card = card_to_fill(DESIGNS[name], rng)
    fill_in(card, mode)
    return photographed(card.sheet, level, rng)[0], card.article, card.card


def test_a_form_survives_its_file(office: Path, tmp_path: Path) -> None:
    form = folder.find("grid")
    folder.write(form, tmp_path / f"copy{SUFFIX}")
    again = read_form(tmp_path / f"copy{SUFFIX}")
    assert (again.picture == form.picture).all()
    others = [one.name for one in fields(form) if one.name != "picture"]
    assert [getattr(again, name) for name in others] == [getattr(form, name) for name in others]


@pytest.mark.parametrize(
    "spoil",
    [
        {"name": "../grid"},
        {"size_mm": (3.0, 2.0)},
        {"box": ((0.0, 0.0), (5.0, 0.0), (5.0, 1.0), (0.0, 1.0))},
        {"box": ((3.0, 75.0), (900.0, 75.0), (74.0, 92.0), (3.0, 92.0))},
        {"kind": "circle"},
        {"cells": 22},
        {"families": ("unheard-of",)},
    ],
)
def test_a_form_that_cannot_be_meant_is_refused(office: Path, spoil: dict[str, object]) -> None:
    with pytest.raises(CounterfoilError):
        checked(replace(folder.find("grid"), **spoil))  # type: ignore[arg-type]


@pytest.mark.parametrize("content", [b"", b"PK", b"no archive", bytes(2000)])
def test_a_file_that_is_no_form_says_so(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / f"x{SUFFIX}"
    path.write_bytes(content)
    with pytest.raises(CounterfoilError, match="not a form"):
        read_form(path)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("level", ["phone", "hard"])
def test_the_box_is_found_to_half_a_millimeter(office: Path, name: str, level: str) -> None:
    """Against the corners that the drawing put there."""
    rng = np.random.default_rng([8, *name.encode()])
    card = card_to_fill(DESIGNS[name], rng)
    fill_in(card, "hand")
    jpeg, to_photo = small_photos.photographed(card.sheet, level, rng)
    match = registered(gray(jpeg), folder.index())
    assert match is not None
    assert match.form.name == name
    found = mapped(match.to_photo, np.array(match.form.box))
    there = np.array(corners(to_photo, DESIGNS[name].box))
    px_per_mm = np.linalg.norm(there[1] - there[0]) / DESIGNS[name].box[2]
    assert np.linalg.norm(found - there, axis=1).max() < 0.5 * px_per_mm


@pytest.mark.parametrize("name", ["comb", "beside"])
def test_a_card_that_was_not_taught_is_none_of_them(office: Path, name: str) -> None:
    jpeg, _, _ = photo_of(name, "hand")
    assert registered(gray(jpeg), folder.index()) is None


def test_the_same_form_under_two_names_is_no_tie(office: Path) -> None:
    """Their boxes are in one place; which of the two it is does not matter."""
    twin: Form = replace(folder.find("grid"), name="grid-again")
    path = folder.save(twin)
    try:
        match = registered(gray(photo_of("grid", "hand")[0]), folder.index())
        assert match is not None
    finally:
        path.unlink()


def test_two_forms_with_the_box_elsewhere_are_a_tie(office: Path) -> None:
    form = folder.find("grid")
    moved = tuple((x + 72.0, y - 12.0) for x, y in form.box)
    path = folder.save(replace(form, name="grid-moved", box=moved))
    try:
        assert registered(gray(photo_of("grid", "hand")[0]), folder.index()) is None
    finally:
        path.unlink()


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("mode", ["strip_text", "strip_barcode"])
def test_strips_are_read_in_the_box_of_a_taught_form(office: Path, name: str, mode: str) -> None:
    jpeg, article, card = photo_of(name, mode)
    what = outcome(jpeg, article, card, office)
    assert what.verdict is Verdict.AGREES
    assert what.read == article


def test_a_strip_as_high_as_the_cell_is_no_label(office: Path) -> None:
    """Its bars are 8 mm; a label's are 12.5 mm and more (UPU S10-12 section 8; 0.5 in, BCOCA)."""
    rng = np.random.default_rng(11)
    card = card_to_fill(DESIGNS["grid"], rng)
    card.strip(card.article, bars=card.article, high_mm=11.7)
    jpeg, _ = photographed(card.sheet, "phone", rng)
    assert outcome(jpeg, card.article, card.card, office).verdict is Verdict.AGREES


def test_an_empty_box_of_a_taught_form_is_empty(office: Path) -> None:
    jpeg, _ = taught(DESIGNS["grid"], seed=5)
    what = outcome(jpeg, "9589073361400182450735", "9590948231076137543417", office)
    assert "box-empty" in what.codes


ALTERED = (
    "box_struck_as_rule", "struck_wavy", "struck_in_pencil", "two_digits_struck", "dots_below",
    "struck_and_new", "print_struck", "bars_crossed", "bars_print_struck", "hand_beside_strip",
    "other_bars",
)  # fmt: skip


@pytest.mark.parametrize("kind", ALTERED)
def test_an_altered_box_is_never_sealed(office: Path, kind: str) -> None:
    """On a form whose rules run close above and below the number."""
    card = altered_card(kind, "grid", 21)
    jpeg, _ = photographed(card.sheet, "phone", card.rng)
    assert outcome(jpeg, card.article, card.card, office).verdict is not Verdict.AGREES


@pytest.mark.parametrize("kind", ["whole_struck", "bars_crossed"])
def test_nor_on_a_card_of_no_known_form(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    monkeypatch.setenv(folder.VARIABLE, os.fspath(tmp_path))
    card = altered_card(kind, "grid", 22)
    jpeg, _ = photographed(card.sheet, "phone", card.rng)
    assert outcome(jpeg, card.article, card.card, tmp_path).verdict is not Verdict.AGREES


def test_bars_that_show_under_a_torn_card_are_no_strip(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The box torn off, the label's own bars show low under the card's number; whole, the same
    card of no known form has its strip read."""
    monkeypatch.setenv(folder.VARIABLE, os.fspath(tmp_path))
    for is_torn in (False, True):
        rng = np.random.default_rng(23)
        card = card_to_fill(DESIGNS["grid"], rng)
        before = card.sheet.pixels
        fill_in(card, "strip_barcode")
        if is_torn:
            whole = card.sheet.pixels
            is_strip = np.abs(whole - before).max(axis=2) > 4
            torn = whole.copy()
            torn[round(DESIGNS["grid"].box[1] * PX_PER_MM) :] = 250
            torn[is_strip] = whole[is_strip]
            card.sheet.replace(torn)
        jpeg, _ = photographed(card.sheet, "phone", rng)
        what = outcome(jpeg, card.article, card.card, tmp_path)
        assert what.verdict is (Verdict.UNREAD if is_torn else Verdict.AGREES)


def test_an_empty_card_of_no_known_form_is_not_called_empty(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(folder.VARIABLE, os.fspath(tmp_path))
    jpeg, _ = taught(DESIGNS["grid"], seed=6)
    what = outcome(jpeg, "9589073361400182450735", "9590948231076137543417", tmp_path)
    assert what.verdict is Verdict.UNREAD
    assert "form-unknown" in what.codes
    assert "box-empty" not in what.codes


def test_a_removed_form_is_gone_from_the_disk_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A name is gone after a power cut once its folder is flushed (POSIX fsync), not before."""
    monkeypatch.setenv(folder.VARIABLE, os.fspath(tmp_path))
    (built_in, *_) = sorted(folder.BUILT_IN.glob("*.form"))
    form = replace(read_form(built_in), name="gone")
    path = folder.save(form)
    flushed: list[tuple[Path, bool]] = []
    monkeypatch.setattr(output, "flush_folder", lambda at: flushed.append((at, path.exists())))
    folder.remove("gone")
    assert flushed == [(tmp_path, False)]


def test_a_form_is_learned_listed_exported_and_removed_by_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(folder.VARIABLE, os.fspath(tmp_path / "forms"))
    jpeg, flat = taught(DESIGNS["beside"])
    photo, drawing, copy = tmp_path / "empty.jpg", tmp_path / "seen.png", tmp_path / "b.form"
    photo.write_bytes(jpeg)
    points = [f"{x:.1f},{y:.1f}" for x, y in np.array(flat).reshape(8, 2)]
    learn = ["form", "learn", "office card", str(photo), "--corners", " ".join(points[:4]),
             "--box", " ".join(points[4:]), "--size", "180x78",
             "--drawing", str(drawing)]  # fmt: skip

    def run(*words: str) -> str:
        result = CliRunner().invoke(cli, words, standalone_mode=False)
        assert result.exception is None, result.output
        return result.output

    with pytest.raises(AssertionError):
        run(*learn)  # nobody was asked, and nobody said yes
    assert not (tmp_path / "forms").exists()
    assert "180 x 78 mm" in run(*learn, "--yes")
    assert cv2.imread(str(drawing)) is not None
    assert "office card" in run("form", "list")
    assert "80" in run("form", "show", "office card")
    assert "office card" in run("form", "check", str(photo))
    run("form", "export", "office card", str(copy))
    run("form", "remove", "office card")
    listed = run("form", "list")
    assert "office card" not in listed
    # Those that come with the program are named by `check` too.
    assert "demo-card: " in listed
    assert "built in" in listed
    assert "demo-card: 178 x 83 mm" in run("form", "show", "demo-card")
    refused = CliRunner().invoke(cli, ["form", "remove", "demo-card"], standalone_mode=False)
    assert "comes with the program" in str(refused.exception)
    run("form", "import", str(copy))
    assert "office card" in run("form", "list")


@pytest.mark.parametrize(("altered", "is_refused"), [(0.98, True), (None, False)])
def test_a_line_in_a_taught_box_that_the_finder_sees_altered_is_refused(
    monkeypatch: pytest.MonkeyPatch, altered: float | None, is_refused: bool
) -> None:
    line = Line(
        picture=np.full((32, 640), 220, np.uint8), to_photo=np.eye(3), marks=20, wide=0.9,
        high=0.06, middle=0.3, is_even=False,
    )  # fmt: skip
    corners = np.array(line.inked().corners)
    seen = [] if altered is None else [
        Proposal(corners=corners, px_per_mm=12.0, altered=altered, share=1.0)
    ]  # fmt: skip
    monkeypatch.setattr(known_form, "proposals", lambda *_: seen)
    box = ((0.0, 0.0), (60.0, 0.0), (60.0, 9.0), (0.0, 9.0))
    match: Any = SimpleNamespace(form=SimpleNamespace(box=box), to_photo=np.eye(3))
    reading = BoxReading(line=None, reason=None, lines=(line,), used=(line,))
    photo = np.full((200, 800), 220, np.uint8)
    assert known_form._is_altered(photo, reading, match) is is_refused

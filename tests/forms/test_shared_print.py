"""A form from filled cards: what they share stays, and nothing of a number does.

The photos are the repository's own (drawn; sample_scans/README.md); the empty card they are held
against is drawn by the same code.
"""

from __future__ import annotations

import os
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner

from counterfoil.main import cli
from pairing.demo.cards import BOX_MM, CARD_MM, card_sheet
from pairing.demo.scenario import BoxBy, Piece
from pairing.errors import CounterfoilError
from pairing.photos.forms import folder, shared_print
from pairing.photos.forms.definition import PX_PER_MM, Form

SAMPLES = Path(__file__).parents[2] / "sample_scans"
FILLED = ("0008", "0010", "0013", "0016", "0019", "0022", "0026")


def box_of(picture: np.ndarray, inset_mm: float) -> np.ndarray:
    left, top, wide, high = BOX_MM
    a, b = left + inset_mm, top + inset_mm
    c, d = left + wide - inset_mm, top + high - inset_mm
    return picture[round(b * PX_PER_MM) : round(d * PX_PER_MM),
                   round(a * PX_PER_MM) : round(c * PX_PER_MM)]  # fmt: skip


def test_a_form_is_learned_from_filled_cards_by_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(folder.VARIABLE, os.fspath(tmp_path))
    photos = [os.fspath(SAMPLES / f"{name}-card.jpg") for name in FILLED]
    words = ["form", "learn", "board", "--filled", *photos, "--size", "178x83", "--yes",
             "--drawing", os.fspath(tmp_path / "seen.png")]  # fmt: skip
    run = CliRunner().invoke(cli, words, standalone_mode=False)
    assert run.exception is None, run.output
    assert "7 of 7 cards" in run.output
    form = folder.find("board")
    left, top, wide, high = BOX_MM
    drawn = [(left, top), (left + wide, top), (left + wide, top + high), (left, top + high)]
    assert np.abs(np.array(form.box) - drawn).max() < 0.8
    assert box_of(form.picture, 1.0).min() > 180, "something of the numbers stayed"
    # The captions and rules of the empty card, as the demonstration draws it, are there.
    blank = Piece(name="0001", purpose="", addressee="", article="9589073361400182450735",
                  card="9590948231076137543417", box_by=BoxBy.EMPTY)  # fmt: skip
    gray = card_sheet(blank, np.random.default_rng(1)).pixels.mean(axis=2).astype(np.uint8)
    size = tuple(round(v * PX_PER_MM) for v in CARD_MM)
    empty = cv2.resize(gray, size, interpolation=cv2.INTER_AREA)
    right = np.s_[: form.picture.shape[0], round(90 * PX_PER_MM) :]
    ink = empty[right] < 150
    half_mm = np.ones((9, 9), np.uint8)  # the corners are proposed to within that
    assert (cv2.erode(form.picture, half_mm)[right] < 200)[ink].mean() > 0.95


def test_few_cards_and_other_cards_are_refused() -> None:
    page = np.full((700, 1400), 200, np.uint8)
    corners = np.array([(20.0, 20.0), (1380.0, 20.0), (1380.0, 680.0), (20.0, 680.0)])
    with pytest.raises(CounterfoilError, match="too few"):
        shared_print.shared_print([page] * 5, corners, (150.0, 80.0))
    with pytest.raises(CounterfoilError, match="show the same card"):
        shared_print.shared_print([page] * 7, corners, (150.0, 80.0))


def test_a_digit_that_all_numbers_begin_with_is_no_print_and_a_caption_is() -> None:
    picture = np.full((640, 1200), 220, np.uint8)
    box = ((10.0, 20.0), (110.0, 20.0), (110.0, 36.0), (10.0, 36.0))
    cv2.rectangle(picture, (80, 160), (880, 288), (90,), 2)
    cv2.putText(picture, "number of the piece", (90, 180), cv2.FONT_HERSHEY_SIMPLEX, 0.5, (80,), 1)
    cv2.putText(picture, "9", (110, 260), cv2.FONT_HERSHEY_SIMPLEX, 1.4, (60,), 3)
    for at in (3, 9):
        cv2.line(picture, (80 + at * 50, 230), (80 + at * 50, 270), (90,), 2)
    frame = Form(name="f", picture=picture, size_mm=(150.0, 80.0), box=box)
    cleaned = shared_print.without_strays(frame).picture
    assert cleaned[200:285, 86:874].min() == 220
    words = np.s_[165:185, 90:300]
    assert (cleaned[words] < 150).sum() > 0.95 * (picture[words] < 150).sum()
    assert (cleaned[158:163] == picture[158:163]).all()
    comb = Form(name="c", picture=picture, size_mm=(150.0, 80.0), box=box, kind="comb", cells=16)
    kept = shared_print.without_strays(comb).picture
    assert (kept[230:270, 228:233] < 150).any()
    assert kept[232:262, 105:135].min() == 220

"""Bars of another symbology, or torn, in the card's box: never passed over for the print below.
Bars by reportlab and zxing-cpp; the card around them invented."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
import pytest
import zxingcpp

from pairing.model import Quad
from pairing.pieces.photo_groups import Photo
from pairing.pieces.reading import read_photo
from pairing.pieces.unread_bars import is_beside_line, unread_bars
from tests.photos.drawing import Gray, picture, reportlab_modules, turned

CARD = "9590940212345678901239"
LABEL = "70191640000008004105"  # public record, retail label
OTHER = "70191640000008004112"
X_PX = 3


def other_bars(kind: str) -> Gray:
    """Bars of another symbology that say another number, 18 X high."""
    text = f"A{OTHER}B" if kind == "Codabar" else OTHER
    made = zxingcpp.create_barcode(text, getattr(zxingcpp.BarcodeFormat, kind))
    drawn = np.array(zxingcpp.write_barcode_to_image(made, scale=1))
    row = np.repeat(drawn[drawn.shape[0] // 2], 2)
    return np.repeat(row[None], 18 * X_PX, axis=0)


def torn() -> Gray:
    bars = picture(reportlab_modules(OTHER), x_px=X_PX, height_px=18 * X_PX, quiet_modules=0)
    bars[:, 190:250] = 255
    return bars


def card_with(strip: Gray, path: Path, *, right_px: int = 0) -> Photo:
    """A card: its own bars, and 20 X below them the box with the strip and the label's number.
    right_px: by so much the box lies farther to the right, as on forms of another layout, and is no
    more than a line to write on."""
    paper = np.full((900, 1100 + right_px), 245, np.uint8)
    own = picture(reportlab_modules(CARD), x_px=X_PX, height_px=34 * X_PX, quiet_modules=0)
    paper[200 : 200 + own.shape[0], 220 : 220 + own.shape[1]] = own
    if right_px:
        cv2.line(paper, (190 + right_px, 525), (820 + right_px, 525), 60, 2)
    else:
        cv2.rectangle(paper, (190, 375), (820, 525), 60, 2)
    if strip.size:
        at = right_px + 455 - strip.shape[1] // 2
        paper[395 : 395 + strip.shape[0], at : at + strip.shape[1]] = strip
    words = " ".join(LABEL[i : i + 4] for i in range(0, 20, 4))
    cv2.putText(
        paper, words, (240 + right_px, 500), cv2.FONT_HERSHEY_SIMPLEX, 1.1, 30, 2, cv2.LINE_AA
    )
    photo = cv2.GaussianBlur(turned(paper, 6), (0, 0), 0.9)
    cv2.imwrite(str(path), photo)
    return Photo(path=path, shows=None)


def quad(corners: Sequence[tuple[float, float]]) -> Quad:
    names = ("top_left", "top_right", "bottom_right", "bottom_left")
    return Quad(**dict(zip(names, corners, strict=True)))


def found(photo: Photo) -> list[str]:
    read = read_photo(photo)
    assert any(one.number.text == CARD for frame in read.frames for one in frame.readings)
    return [str(one.code) for frame in read.frames for one in frame.found]


@pytest.mark.parametrize("kind", ["Codabar", "ITF", "Code39", "Code93"])
def test_bars_of_another_symbology_are_not_passed_over(kind: str, tmp_path: Path) -> None:
    photo = card_with(other_bars(kind), tmp_path / "card.png")
    assert "box-bars-unread" in found(photo)


@pytest.mark.parametrize("kind", ["ITF", "Code93"])
def test_nor_are_they_in_a_box_that_is_not_below_the_cards_own(kind: str, tmp_path: Path) -> None:
    """The print under them was read and agreed, whatever they said."""
    photo = card_with(other_bars(kind), tmp_path / "card.png", right_px=850)
    assert "box-bars-unread" in found(photo)
    bare = card_with(np.zeros((0, 0), np.uint8), tmp_path / "bare.png", right_px=850)
    (frame,) = read_photo(bare).frames
    assert frame.seen is not None
    assert frame.seen.evidence is not None
    assert frame.seen.evidence.best == LABEL
    assert "box-bars-unread" not in found(bare)


@pytest.mark.parametrize(
    ("down", "right", "is_one"),
    [(-70.0, 0.0, True), (0.0, 40.0, True), (-140.0, 0.0, False), (-70.0, 500.0, False)],
    ids=["above", "on it", "far above", "beside it"],
)
def test_bars_right_at_a_line_are_of_its_strip(down: float, right: float, is_one: bool) -> None:
    line = quad([(100, 200), (500, 240), (496, 280), (96, 240)])
    place = [(x + right, y + down) for x, y in ((110, 190), (480, 226), (474, 286), (104, 250))]
    assert is_beside_line(line, quad(place)) is is_one


def test_torn_bars_are_not_passed_over(tmp_path: Path) -> None:
    assert "box-bars-unread" in found(card_with(torn(), tmp_path / "card.png"))


def test_a_box_without_bars_has_none(tmp_path: Path) -> None:
    bare = np.zeros((0, 0), np.uint8)
    assert "box-bars-unread" not in found(card_with(bare, tmp_path / "card.png"))


def test_words_between_rules_are_no_bars() -> None:
    paper = np.full((160, 900), 235, np.uint8)
    for x in (150, 430, 780):
        cv2.line(paper, (x, 0), (x, 160), 40, 6)
    cv2.putText(paper, "Street 1749", (190, 60), cv2.FONT_HERSHEY_SIMPLEX, 1.1, 60, 3, cv2.LINE_AA)
    cv2.putText(paper, "Number", (480, 125), cv2.FONT_HERSHEY_SIMPLEX, 1.3, 60, 3, cv2.LINE_AA)
    assert unread_bars(paper, [whole(paper)]) == ()


@pytest.mark.parametrize("strip", [other_bars("ITF"), torn()], ids=["other", "torn"])
def test_bars_are_bars_whoever_reads_them(strip: Gray) -> None:
    blurred = np.asarray(cv2.GaussianBlur(strip, (0, 0), 1.5), np.uint8)
    assert len(unread_bars(blurred, [whole(blurred)])) == 1


def whole(paper: Gray) -> Quad:
    high, wide = paper.shape
    return Quad(
        top_left=(0.0, 0.0), top_right=(wide, 0.0), bottom_right=(wide, high),
        bottom_left=(0.0, high),
    )  # fmt: skip

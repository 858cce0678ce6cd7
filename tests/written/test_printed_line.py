"""Print under bars is whole, or known to be cut: a frame beside it does not cut it.

Pictures are drawn here: lines of digits under a stretch of bars, with and without a frame.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from pairing.model import Quad
from pairing.photos.written import line_under
from pairing.photos.written.printed_line import _is_corner
from tests.photos.drawing import reportlab_modules

_TEXT = "9208 8904 3366 5718 2116 25"
_LEFT, _TOP, _WIDE, _HIGH = 260, 60, 640, 90


def _font(size: float) -> ImageFont.FreeTypeFont:
    face = ImageFont.load_default(size)
    assert isinstance(face, ImageFont.FreeTypeFont)
    return face


def _strip(text: str = _TEXT, *, frame: float = 0.0) -> tuple[np.ndarray, Quad]:
    """Bars with a text centered under them. frame: the side of a box so far left of the text, in
    px; its corner is level with the text."""
    row = np.where(reportlab_modules(_TEXT.replace(" ", "")), 30, 240).astype(np.uint8)[None]
    image = Image.new("L", (1160, 320), 240)
    draw = ImageDraw.Draw(image)
    draw.text((_LEFT + _WIDE / 2, _TOP + _HIGH + 16), text, fill=35, font=_font(46), anchor="mt")
    x = draw.textbbox((_LEFT + _WIDE / 2, 0), text, font=_font(46), anchor="mt")[0] - frame
    if frame:
        draw.line([(x, 20), (x, 215), (1150, 215)], fill=40, width=7)
    pixels = np.array(image)
    bars = cv2.resize(row, (_WIDE, _HIGH), interpolation=cv2.INTER_AREA)
    pixels[_TOP : _TOP + _HIGH, _LEFT : _LEFT + _WIDE] = bars
    right, foot = float(_LEFT + _WIDE), float(_TOP + _HIGH)
    quad = Quad(top_left=(_LEFT, _TOP), top_right=(right, _TOP), bottom_right=(right, foot),
                bottom_left=(_LEFT, foot))  # fmt: skip
    return cv2.GaussianBlur(pixels, (0, 0), 1.0), quad


@pytest.mark.parametrize("frame", [0, *range(40, 121, 4)])
def test_a_frame_beside_print_does_not_cut_it(frame: int) -> None:
    line = line_under(*_strip(frame=float(frame)))
    assert line is not None
    assert not line.is_cut


@pytest.mark.parametrize("groups", range(1, 8))
def test_print_that_goes_on_is_read_to_its_end_or_is_cut(groups: int) -> None:
    text = _TEXT + " 7019" * groups
    line = line_under(*_strip(text))
    assert line is not None
    assert line.is_cut or line.marks == len(text.replace(" ", ""))
    assert line.is_cut or groups < 5  # longer than 0.85 of the bars' length on either side


def _drawn(draw_on: str) -> np.ndarray:
    image = Image.new("L", (90, 90), 0)
    ImageDraw.Draw(image).text((45, 45), draw_on, fill=255, font=_font(60), anchor="mm")
    ink = np.array(image)
    rows, columns = np.nonzero(ink > 100)
    return ink[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1] > 100


def test_a_corner_is_told_whichever_way_it_is_turned() -> None:
    corner = np.zeros((70, 44), np.uint8)
    corner[:, :5] = 255
    corner[-5:] = 255
    for turned in (corner, corner[::-1], corner[:, ::-1], corner[::-1, ::-1], corner.T):
        assert _is_corner(np.ascontiguousarray(turned))


@pytest.mark.parametrize("character", list("0123456789RSUX"))
def test_no_character_is_a_corner(character: str) -> None:
    assert not _is_corner(_drawn(character).astype(np.uint8))


@pytest.mark.parametrize("off", [40, 50, 60])
def test_a_combs_lines_beside_a_strip_are_none_of_its_print(off: int) -> None:
    """A strip pasted over a comb covers the lines but for those beside it, of which the part below
    the bars is about as high as its print."""
    gray, quad = _strip()
    font = _font(46)
    middle = (_LEFT + _WIDE / 2, _TOP + _HIGH + 16)
    draw = ImageDraw.Draw(Image.fromarray(gray))
    left, top, right, foot = draw.textbbox(middle, _TEXT, font=font, anchor="mt")
    for x in (left - off, right + off):
        cv2.line(gray, (round(x), round(top) - 3), (round(x), round(foot) + 3), (60,), 5)
    line = line_under(np.asarray(cv2.GaussianBlur(gray, (0, 0), 1.0), np.uint8), quad)
    assert line is not None
    assert not line.is_cut
    assert line.marks == len(_TEXT.replace(" ", ""))

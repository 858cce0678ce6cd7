"""Handwriting: the glyphs of an open-licensed hand, never twice the same.

Each glyph is bent, turned, slanted and resized a little; the line rises, sinks
and drifts; the pen is thicker for some hands; some slash their zeros and cross
their sevens.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image, ImageDraw

from pairing.demo.sheet import PX_PER_MM, Color, Pixels, load_font

BALLPOINT_BLUE: Color = (38, 52, 132)
BALLPOINT_BLACK: Color = (38, 36, 42)
GEL_BLACK: Color = (20, 20, 24)
FOUNTAIN_BLUE: Color = (24, 60, 118)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """One person's writing.

    face: a file in `fonts/`.
    slant: the shear, dx for dy of 1; to the right is positive.
    pen_mm: what is added to the thickness of the face's own strokes.
    narrow: the width of its glyphs as a share of the face's own.
    apart: what is added between digits, in digit heights.
    wobble: how much the glyphs differ from one another, 1.0 is usual.
    """

    face: str
    ink: Color
    slant: float = 0.0
    pen_mm: float = 0.0
    narrow: float = 1.0
    apart: float = 0.05
    wobble: float = 1.0
    is_zero_slashed: bool = False
    is_seven_crossed: bool = False


HANDS = {
    "caveat": Hand(face="Caveat-Medium.ttf", ink=BALLPOINT_BLUE, pen_mm=0.06, apart=0.10),
    "indie": Hand(
        face="IndieFlower-Regular.ttf", ink=GEL_BLACK, slant=-0.04, pen_mm=0.06, apart=0.07
    ),
    "reenie": Hand(
        face="ReenieBeanie-Regular.ttf",
        ink=BALLPOINT_BLACK,
        slant=0.05,
        pen_mm=0.14,
        apart=0.12,
        wobble=1.1,
        is_seven_crossed=True,
    ),
    "architects": Hand(
        face="ArchitectsDaughter-Regular.ttf",
        ink=FOUNTAIN_BLUE,
        slant=0.06,
        pen_mm=0.05,
        narrow=0.84,
        apart=0.15,
        is_zero_slashed=True,
        is_seven_crossed=True,
    ),
}


def write_line(
    text: str, *, hand: Hand, height_mm: float, width_mm: float, rng: np.random.Generator
) -> Pixels:
    """Write one line; height_mm is a digit's height, made less where width_mm
    would not hold the line.

    Returns the ink, (height, width) float32 from 0 to 1, three digit heights high;
    the baseline is about two digit heights from the top.
    """
    height_px = height_mm * PX_PER_MM
    needed = _length_px(text, hand, height_px)
    height_px *= min(1.0, 0.97 * width_mm * PX_PER_MM / needed)
    page = np.zeros((round(3 * height_px), round(width_mm * PX_PER_MM + height_px)), np.float32)
    x_px, y_px = 0.35 * height_px, 2.0 * height_px
    rise = rng.normal(0, 0.006) * hand.wobble
    for mark in text:
        if mark != " ":
            glyph = _glyph(mark, hand, height_px, rng)
            bob = rng.normal(0, 0.035) * height_px * hand.wobble
            _lay(page, glyph, x_px - height_px, y_px - rise * x_px + bob - 2 * height_px)
        step = _advance_px(mark, hand, height_px)
        x_px += step + rng.normal(0, 0.025) * height_px * hand.wobble
    return _inked(page, rng)


def strike_out(ink: Pixels, *, from_mm: float, to_mm: float, rng: np.random.Generator) -> None:
    """Draw two restless lines through what is written between the two places."""
    rows = np.flatnonzero(ink.max(axis=1) > 0.3)
    middle, reach = float(rows.mean()), float(np.ptp(rows))
    for level in (-0.08, 0.10):
        xs = np.linspace(from_mm * PX_PER_MM, to_mm * PX_PER_MM, 9)
        ys = middle + (level + rng.normal(0, 0.05, 9)) * reach
        stroke(ink, np.stack([xs, ys], axis=1), 0.38)


def _size_px(hand: Hand, height_px: float) -> float:
    """The font size at which this hand's digits are height_px high."""
    _, top, _, bottom = load_font(hand.face, 200.0).getbbox("58", anchor="ls")
    return 200.0 * height_px / float(bottom - top)


def _advance_px(mark: str, hand: Hand, height_px: float) -> float:
    if mark == " ":
        return 0.52 * height_px
    font = load_font(hand.face, 200.0)
    length = font.getlength(mark) * _size_px(hand, height_px) / 200.0
    return float(length) * hand.narrow + hand.apart * height_px


def _length_px(text: str, hand: Hand, height_px: float) -> float:
    return sum(_advance_px(mark, hand, height_px) for mark in text) + 0.7 * height_px


def _glyph(mark: str, hand: Hand, height_px: float, rng: np.random.Generator) -> Pixels:
    """One glyph's ink on a tile of 3 by 3 digit heights, its foot at (1, 2)."""
    side = round(3 * height_px)
    tile = Image.new("L", (side, side), 0)
    size = round(_size_px(hand, height_px), 1)
    ImageDraw.Draw(tile).text(
        (height_px, 2 * height_px),
        mark,
        fill=255,
        font=load_font(hand.face, size),
        anchor="ls",
        stroke_width=hand.pen_mm / 2 * PX_PER_MM,
    )
    ink: Pixels = np.asarray(tile, np.float32) / np.float32(255)
    box = np.argwhere(ink > 0.5)
    (top, left), (bottom, right) = box.min(axis=0), box.max(axis=0)
    wide, high = right - left, bottom - top
    if mark == "0" and hand.is_zero_slashed:
        ends = [(left + 0.12 * wide, bottom - 0.1 * high), (right - 0.1 * wide, top + 0.12 * high)]
        stroke(ink, np.asarray(ends), 0.30 + hand.pen_mm)
    if mark == "7" and hand.is_seven_crossed:
        level = top + 0.52 * high
        ends = [(left + 0.18 * wide, level), (right - 0.02 * wide, level - 0.04 * high)]
        stroke(ink, np.asarray(ends), 0.28 + hand.pen_mm)
    return _bent(ink, hand, height_px, rng)


def _bent(ink: Pixels, hand: Hand, height_px: float, rng: np.random.Generator) -> Pixels:
    """The glyph turned, slanted, resized and bent by smooth random amounts."""
    side = ink.shape[0]
    turn = np.deg2rad(rng.normal(0, 2.2) * hand.wobble)
    slant = hand.slant + rng.normal(0, 0.03) * hand.wobble
    grow_x, grow_y = 1 + rng.normal(0, 0.045, 2) * hand.wobble
    shape = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    shape = shape @ np.array([[hand.narrow * grow_x, -slant], [0, grow_y]])
    ys, xs = np.mgrid[0:side, 0:side].astype(np.float32)
    anchor = np.array([1.25 * height_px, 2 * height_px])
    back = np.linalg.inv(shape)
    from_x = back[0, 0] * (xs - anchor[0]) + back[0, 1] * (ys - anchor[1]) + anchor[0]
    from_y = back[1, 0] * (xs - anchor[0]) + back[1, 1] * (ys - anchor[1]) + anchor[1]
    bends = rng.normal(0, 0.03 * height_px * hand.wobble, (2, 7, 7)).astype(np.float32)
    from_x += cv2.resize(bends[0], (side, side), interpolation=cv2.INTER_CUBIC)
    from_y += cv2.resize(bends[1], (side, side), interpolation=cv2.INTER_CUBIC)
    bent = cv2.remap(ink, from_x.astype(np.float32), from_y.astype(np.float32), cv2.INTER_LINEAR)
    return np.asarray(bent, np.float32)


def stroke(ink: Pixels, points: np.ndarray, pen_mm: float) -> None:
    """Draw a pen's stroke into ink (height, width; 0 to 1) through points, (n, 2) px."""
    canvas = np.zeros(ink.shape, np.uint8)
    path = np.round(points * 16).astype(np.int32).reshape(-1, 1, 2)
    cv2.polylines(canvas, [path], False, (255,), max(1, round(pen_mm * PX_PER_MM)), cv2.LINE_AA, 4)
    np.maximum(ink, canvas.astype(np.float32) / 255, out=ink)


def _lay(page: Pixels, tile: Pixels, x_px: float, y_px: float) -> None:
    top, left = round(y_px), round(x_px)
    rows = slice(max(top, 0), min(top + tile.shape[0], page.shape[0]))
    columns = slice(max(left, 0), min(left + tile.shape[1], page.shape[1]))
    part = tile[rows.start - top : rows.stop - top, columns.start - left : columns.stop - left]
    np.maximum(page[rows, columns], part, out=page[rows, columns])


def _inked(page: Pixels, rng: np.random.Generator) -> Pixels:
    """Uneven ink: the pen presses more here than there."""
    coarse = rng.uniform(0.74, 0.98, (6, page.shape[1] // 40 + 2)).astype(np.float32)
    press = cv2.resize(coarse, (page.shape[1], page.shape[0]), interpolation=cv2.INTER_LINEAR)
    return np.asarray(page * press, np.float32)

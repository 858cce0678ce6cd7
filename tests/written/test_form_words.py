"""What stands beside a number on a card of no known form: captions, and what is none. The pictures
are drawn here; what each of them holds is what was drawn."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from pairing.demo.hand import HANDS, write_line
from pairing.demo.sheet import BOLD, MONO, SANS, load_font
from pairing.demo.sheet import PX_PER_MM as SHEET_PX_PER_MM
from pairing.photos.finder.print_seen import print_share
from pairing.photos.written import shared_reader
from pairing.photos.written.form_words import words_beside
from pairing.photos.written.plane import PX_PER_MM, Plane, rectangle
from pairing.photos.written.region import Region, content_of

HIGH, WIDE = round(16 * PX_PER_MM), round(84 * PX_PER_MM)
ARTICLE = "9589 0710 5270 0123 4567 84"


def region(caption: str, tall_mm: float, face: str = SANS, blur_px: float = 1.5) -> Region:
    """A number of 3.2 mm on bare paper, and something above it."""
    sheet = Image.new("L", (WIDE, HIGH), 225)
    draw = ImageDraw.Draw(sheet)
    for text, at_mm, high_mm, name in (
        (ARTICLE, 8.5, 3.2, MONO),
        (caption, 3.5, tall_mm, face),
    ):
        font = load_font(name, round(high_mm * PX_PER_MM / 0.72))
        draw.text((round(8 * PX_PER_MM), at_mm * PX_PER_MM), text, fill=45, font=font)
    gray = cv2.GaussianBlur(np.asarray(sheet, np.uint8), (0, 0), blur_px)
    return Region(
        plane=Plane(gray=np.asarray(gray, np.uint8), to_photo=np.eye(3), scale=1.0),
        box=rectangle(2.0, 2.0, WIDE - 4.0, HIGH - 4.0),
        printed=np.zeros((HIGH, WIDE), np.uint8),
    )


def beside(one: Region) -> tuple[bool, bool]:
    """Whether marks stand beside the number, and whether all are words of the form's print."""
    content = content_of(one)
    number = max(content.rows, key=len)
    marks = [mark for row in content.rows if row is not number for mark in row]
    marks += content.left_over
    photo: NDArray[np.uint8] = one.plane.gray
    words = words_beside(photo, one, content, number, shared_reader())
    told = {id(mark) for line in words for mark in line}
    return bool(marks), all(id(mark) in told for mark in marks)


@pytest.mark.parametrize("caption", ["Numero de l'envoi", "2. Article number (copy from label)"])
def test_a_caption_of_low_letters_is_put_together_and_taken_for_print(caption: str) -> None:
    """Of its letters only the tallest are marks of 1.5 mm: too few to be told by themselves."""
    assert beside(region(caption, 1.6)) == (True, True)


def test_letters_that_ran_together_are_a_caption_too() -> None:
    one = region("Numero de l'envoi", 1.9, blur_px=3.0)
    assert min(map(len, content_of(one).rows)) <= 4
    assert beside(one) == (True, True)


@pytest.mark.parametrize(
    "other", ["9589 0710 5270 0199 8877 66", "4567 84", "70612345678901234567"]
)
def test_lower_digits_beside_a_number_are_no_caption(other: str) -> None:
    assert beside(region(other, 1.9, MONO)) == (True, False)


def test_a_felt_pens_wave_above_a_number_is_no_caption() -> None:
    one = region("", 1.0)
    x = np.arange(round(10 * PX_PER_MM), round(60 * PX_PER_MM))
    y = 5.0 * PX_PER_MM + 0.9 * PX_PER_MM * np.sin(x / (1.4 * PX_PER_MM))
    points = np.round(np.stack([x, y], 1)).astype(np.int32)
    cv2.polylines(one.plane.gray, [points], isClosed=False, color=(50,), thickness=13)
    assert beside(one) == (True, False)


def test_what_the_reader_is_less_sure_of_is_print_where_the_finder_sees_print_too() -> None:
    """A short footer in bold letters that a photo blurred, of which the reader gives 0.91."""
    assert beside(region("An den Absender", 1.7, BOLD, blur_px=2.6)) == (True, True)


def test_words_by_hand_are_not_seen_as_print() -> None:
    ink = write_line("An den Absender", hand=HANDS["caveat"], height_mm=2.0, width_mm=60.0,
                     rng=np.random.default_rng(3))  # fmt: skip
    scale = PX_PER_MM / SHEET_PX_PER_MM
    ink = np.asarray(
        cv2.resize(ink, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), np.float32
    )
    gray = np.full((HIGH, WIDE), 225.0)
    gray[10 : 10 + ink.shape[0], 40 : 40 + ink.shape[1]] -= 170 * ink
    marks = [(40.0, 10.0, float(ink.shape[1]), float(ink.shape[0]))]
    assert print_share(np.asarray(gray, np.uint8), marks) < 0.95

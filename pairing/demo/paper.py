"""What labels and cards are made with: inks and stocks, element strings, writing.

Layout and wording of the demonstration are this scenario's own. Sizes in mm. Numbers
are printed in groups of four, S10 in 2-3-3-3-2; routing is never printed.
"""

from __future__ import annotations

import numpy as np

from pairing.demo.hand import Hand, write_line
from pairing.demo.sheet import PX_PER_MM, Color, Sheet
from pairing.numbers import printed

PLUM: Color = (92, 52, 88)
SLATE: Color = (58, 76, 102)
BLACK: Color = (24, 24, 26)
STRAW: Color = (246, 236, 212)
MIST: Color = (222, 230, 238)
WHITE: Color = (250, 250, 248)


def grouped(number: str) -> str:
    """The printed form of a number, right or wrong."""
    return printed(number)


def as_gs1(number: str) -> str:
    """A 22-digit number as an element string; "" for one that goes in plain Code 128."""
    if len(number) == 22:
        return f"[{number[:2]}]{number[2:]}"
    return ""


def write(
    sheet: Sheet,
    text: str,
    hand: Hand,
    place_mm: tuple[float, float, float, float],
    rng: np.random.Generator,
    /,
) -> None:
    """Write a line; place_mm is its start, its baseline, the room it has in width
    and its digits' height."""
    left, foot, wide, high = place_mm
    ink = write_line(text, hand=hand, height_mm=high, width_mm=wide, rng=rng)
    sheet.stain(left, foot - ink.shape[0] / PX_PER_MM * 2 / 3, ink, hand.ink)

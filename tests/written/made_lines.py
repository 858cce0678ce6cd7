"""A line of digits as the reader gives it, made without a picture."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pairing.photos.written.box_lines import Line


def surely_read(text: str) -> NDArray[np.float64]:
    """The reader's chances, (160, 37), where it reads these digits and doubts none of them: every
    seventh step is one of them, and all others are between two."""
    chances = np.full((160, 37), 1e-6)
    chances[:, 0] = 1.0
    for place, digit in enumerate(text):
        chances[4 + 7 * place] = 1e-6
        chances[4 + 7 * place, 1 + int(digit)] = 1.0
    return chances


def straight() -> Line:
    """A straight line of 20 marks, 640 x 32 px."""
    return Line(
        picture=np.zeros((32, 640), np.uint8), to_photo=np.eye(3), marks=20, wide=1.0, high=0.06,
        middle=0.3, is_even=True,
    )  # fmt: skip

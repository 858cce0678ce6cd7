"""A photo in several sizes, each made once."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Gray = NDArray[np.uint8]


def reduced(gray: Gray, halvings: int) -> Gray:
    """Averaged down by 2 x 2, `halvings` times."""
    for _ in range(halvings):
        height, width = gray.shape
        size = (max(width // 2, 1), max(height // 2, 1))
        gray = np.asarray(cv2.resize(gray, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    return gray


class Halved:
    """A gray photo, (height, width) uint8, and its halvings."""

    def __init__(self, gray: Gray) -> None:
        self._levels = [gray]

    @property
    def gray(self) -> Gray:
        """The photo itself."""
        return self._levels[0]

    def at(self, halvings: int) -> Gray:
        """The photo averaged down by 2 x 2, `halvings` times."""
        while len(self._levels) <= halvings:
            self._levels.append(reduced(self._levels[-1], 1))
        return self._levels[halvings]

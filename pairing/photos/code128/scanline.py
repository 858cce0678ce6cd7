"""A profile seen in one reading direction: its likely ends and scale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pairing.photos.code128 import encoding

Floats = NDArray[np.float64]

_SWING = 0.12  # least change of darkness that counts as an edge
_EDGES_TRIED = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanLine:
    """A profile in one reading direction.

    dark, trust: as in `profile.Profile`.
    bars: the columns between which the bars lie, roughly.
    """

    dark: Floats
    trust: Floats
    bars: tuple[float, float]

    @property
    def length(self) -> float:
        return self.bars[1] - self.bars[0]

    def edges(self) -> Floats:
        """Columns near the bars' beginning where darkness rises through one half, nearest first."""
        dark, near = self.dark, self.bars[0]
        above = dark > 0.5
        steps = np.flatnonzero(above[1:] & ~above[:-1])
        steps = steps[np.abs(steps + 0.5 - near) <= 0.13 * self.length + 10]
        places = steps + (0.5 - dark[steps]) / (dark[steps + 1] - dark[steps]) + 0.5
        order = np.argsort(np.abs(places - near))[:_EDGES_TRIED]
        return np.asarray(places[order], dtype=np.float64)

    def likely_x(self) -> tuple[float, float]:
        """Bounds for X from the number of swings between dark and light.

        A symbol of n characters with its stop has 6 n + 7 edges on 11 n + 13 modules.
        Blur hides some of them, noise and print around add some.
        """
        first, last = int(max(self.bars[0], 0)), int(min(self.bars[1], len(self.dark)))
        soft = np.convolve(self.dark[first:last], [0.25, 0.5, 0.25], "valid")
        modules = max(swings(soft, _SWING), 8) * encoding.CHARACTER_MODULES / 6
        return self.length / (modules * 1.75), self.length / (modules * 0.75)

    def reversed(self) -> ScanLine:
        size = len(self.dark)
        return ScanLine(
            dark=self.dark[::-1],
            trust=self.trust[::-1],
            bars=(size - self.bars[1], size - self.bars[0]),
        )


def swings(line: Floats | NDArray[np.float32], least: float) -> int:
    """Changes of direction that lead further than `least`."""
    if not len(line):
        return 0
    steps = np.diff(line)
    # Between two turns nothing is decided: only they and the ends are walked.
    turns = line[1:-1][steps[1:] * steps[:-1] <= 0]
    count, level, rising = 0, float(line[0]), True
    for value in (*turns.tolist(), float(line[-1])):
        if rising == (value > level):
            level = value
        elif abs(value - level) > least:
            count, level, rising = count + 1, value, not rising
    return count

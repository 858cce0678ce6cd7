"""Guesses where a symbol's characters lie on a profile, before anything is measured."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pairing.photos.code128 import beamsearch, blur, encoding, rough_costs
from pairing.photos.code128.beam import CHARACTER_NATS
from pairing.photos.code128.blur import BlurModel
from pairing.photos.code128.scanline import ScanLine
from pairing.photos.code128.templates import Templates, templates

Floats = NDArray[np.float64]

KNOTS = 8
_ENDS_TRIED = 3
_LOST_IN_FOCUS = 0.35
"""Measured on the damage ladder, turned reference photos and 400 crops: walks that led to a
number left at most 0.30 after five characters and later, half of the others more than 0.38."""

_MOST_EVEN = 24  # characters; a longer symbol that blurred has not enough pixels anyway
_EVEN_LENGTHS = [(count, encoding.symbol_modules(count + 1)) for count in range(3, _MOST_EVEN + 1)]
"""Characters, and modules with the stop."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """Where the symbol lies on the profile.

    characters: start, data and check characters; the stop comes on top.
    knots: columns of evenly spaced points from the first bar's outer edge to the
        last bar's; decreasing where the symbol is read from right to left.
    """

    characters: int
    knots: tuple[float, ...]

    def columns(self) -> Floats:
        """Column of each sample of `blur.sample_places`."""
        modules = encoding.symbol_modules(self.characters + 1)
        along = blur.sample_places(self.characters) / modules * (len(self.knots) - 1)
        inner = np.interp(along, np.arange(len(self.knots)), self.knots)
        first, last = self.knots[0], self.knots[-1]
        before = first + along * (self.knots[1] - first)
        beyond = last + (along - len(self.knots) + 1) * (last - self.knots[-2])
        return np.where(along < 0, before, np.where(along > len(self.knots) - 1, beyond, inner))

    @property
    def x_columns(self) -> float:
        """Mean columns a module."""
        return abs(self.knots[-1] - self.knots[0]) / encoding.symbol_modules(self.characters + 1)


def sharp_placements(line: ScanLine, least_x: float) -> list[Placement]:
    """Placements along which a fairly sharp symbol can be followed, most promising first."""
    found = beamsearch.hypotheses(
        line, least_x=least_x, expected=_expected(0.4), most_lost=_LOST_IN_FOCUS
    )
    return [_placement_of(hypothesis) for hypothesis in found]


def blurred_placements(line: ScanLine, least_x: float) -> list[Placement]:
    """Where the symbol characters may lie, found by walking the profile as a blurred one."""
    found = beamsearch.hypotheses(line, least_x=least_x, expected=_expected(0.75))
    return [_placement_of(hypothesis) for hypothesis in found]


@lru_cache(maxsize=2)
def _expected(sigma: float) -> Templates:
    return templates(BlurModel(blur.gaussian_blur(sigma)))


def even_placements(line: ScanLine, least_x: float) -> list[Placement]:
    """Placements of one even scale between likely ends, for blur in which nothing can be
    followed: every number of characters is decoded as a whole, and the cheapest kept."""
    narrowest, widest = line.likely_x()
    firsts = line.edges()[:_ENDS_TRIED]
    lasts = len(line.dark) - line.reversed().edges()[:_ENDS_TRIED]
    placements = [
        _even(float(first), float(last), characters)
        for characters, modules in _EVEN_LENGTHS
        for left in firsts
        for right in lasts
        if max(narrowest, least_x) <= (right - left) / modules <= widest
        for first, last in ((left, right), (right, left))
    ]
    scores = _scores(line, placements)
    return [placements[at] for at in np.argsort(scores, kind="stable")[:4].tolist()]


def _scores(line: ScanLine, placements: list[Placement]) -> list[float]:
    """Nats a column that placements leave unexplained."""
    if not placements:
        return []
    grid = np.arange(len(line.dark)) + 0.5
    dark = [np.interp(placement.columns(), grid, line.dark) for placement in placements]
    costs = rough_costs.least_costs(dark, (rough_model(),))[0].tolist()
    return [
        (cost * beamsearch.nats_of(placement.x_columns) + placement.characters * CHARACTER_NATS)
        / abs(placement.knots[-1] - placement.knots[0])
        for cost, placement in zip(costs, placements, strict=True)
    ]


@lru_cache(maxsize=1)
def rough_model() -> BlurModel:
    """A blur model to begin with, before anything is known of the photo."""
    return BlurModel(blur.gaussian_blur(0.75))


def _even(first: float, last: float, characters: int) -> Placement:
    return Placement(
        characters=characters, knots=tuple(float(k) for k in np.linspace(first, last, KNOTS))
    )


def _placement_of(hypothesis: beamsearch.Hypothesis) -> Placement:
    """The hypothesis's boundaries, thinned to knots that are evenly spaced in modules."""
    characters = len(hypothesis.values)
    cells = np.arange(characters + 1, dtype=np.float64) * encoding.CHARACTER_MODULES
    modules = np.append(cells, cells[-1] + encoding.STOP_MODULES)
    even = np.linspace(0, modules[-1], KNOTS)
    knots = np.interp(even, modules, hypothesis.boundaries)
    return Placement(characters=characters, knots=tuple(float(k) for k in knots))

"""Symbols of other symbologies: named as what they are, never taken for Code 128."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pairing.model import Quad, Symbol
from pairing.photos.barcodes.engines import CODE_128, Detection, Engine, Gray, Scope
from pairing.photos.barcodes.halved import reduced
from pairing.photos.barcodes.quads import quad_of, reading_angle_deg
from pairing.photos.barcodes.rectify import flat_cut
from pairing.photos.code128.scanline import swings

_MATRIX_PIXELS = 1_500_000
_GUESSED_KINDS = {"ITF", "ITF-14", "Codabar", "Code 39", "Code 93"}
_LEAST_GUESSED = 6
"""Symbologies without a check of their own are seen in other symbols' bars when short
(measured: zxing-cpp finds ITF of two digits in damaged Code 128)."""


_COLUMNS, _ROWS = 285, 24  # of a symbol's picture: 3 columns a module of EAN-13's 95
_QUIET_COLUMNS = 27
"""What is looked at beside either end: 9 modules of EAN-13's 95. Its quiet zones are 11 X and 7 X,
UPC-A's 9 X and 9 X (GS1 General Specifications); behind 7 X an add-on may show its first bar."""

_MOST_SWINGS_BESIDE = 2
"""Changes between dark and light there: a frame or an add-on's first bar makes two, bars that go
on three and more."""

_SWING_SHARE = 0.3  # of the bars' contrast


def is_believable(detection: Detection) -> bool:
    """Whether a reading in another symbology is more than a chance look at some edges."""
    return detection.kind not in _GUESSED_KINDS or len(detection.text) >= _LEAST_GUESSED


def stands_apart(gray: Gray, quad: Quad) -> bool:
    """Whether the bars end where a reading in another symbology does.

    zxing-cpp reads a piece of a Code 128 symbol whose ends it cannot make out as a whole EAN-13
    (once in 10,800 damaged crops, and its check digit holds); the bars go on beyond that.
    """
    flat = flat_cut(gray, quad, columns=_COLUMNS, rows=_ROWS, quiet_columns=_QUIET_COLUMNS)
    line = flat.mean(axis=0)
    dark, light = np.percentile(line[_QUIET_COLUMNS:-_QUIET_COLUMNS], (10, 90))
    least = _SWING_SHARE * float(light - dark)
    # The symbol's own last bar, a little blurred, is none of what is beside it.
    sides = line[: _QUIET_COLUMNS - 1][::-1], line[1 - _QUIET_COLUMNS :]
    return all(swings(side, least) <= _MOST_SWINGS_BESIDE for side in sides)


def symbol_of(detection: Detection) -> Symbol:
    """A detection with four corners as a symbol; X is not measured."""
    quad = quad_of(detection.points)
    return Symbol(
        text=detection.text,
        aim=detection.aim,
        kind=detection.kind,
        quad=quad,
        angle_deg=reading_angle_deg(quad),
        x_px=0.0,
        witnesses=(detection.engine,),
    )


def matrix_symbols(gray: Gray, zxing: Engine) -> list[Symbol]:
    """Matrix symbols, for photos without bars; on a reduced picture, for they cost much."""
    halvings = 0
    while gray.size / 4**halvings > _MATRIX_PIXELS:
        halvings += 1
    factor = float(2**halvings)
    found = []
    for seen in zxing.read(reduced(gray, halvings), scope=Scope.ALL):
        if seen.kind != CODE_128 and is_believable(seen):
            points = tuple((x * factor, y * factor) for x, y in seen.points)
            found.append(symbol_of(replace(seen, points=points)))
    return found

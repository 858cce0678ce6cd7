"""Symbols of other symbologies: named as what they are, never taken for Code 128."""

from __future__ import annotations

from dataclasses import replace

from pairing.model import Symbol
from pairing.photos.barcodes.engines import CODE_128, Detection, Engine, Gray, Scope
from pairing.photos.barcodes.halved import reduced
from pairing.photos.barcodes.quads import quad_of, reading_angle_deg

_MATRIX_PIXELS = 1_500_000
_GUESSED_KINDS = {"ITF", "ITF-14", "Codabar", "Code 39", "Code 93"}
_LEAST_GUESSED = 6
"""Symbologies without a check of their own are seen in other symbols' bars when short
(measured: zxing-cpp finds ITF of two digits in damaged Code 128)."""


def is_believable(detection: Detection) -> bool:
    """Whether a reading in another symbology is more than a chance look at some edges."""
    return detection.kind not in _GUESSED_KINDS or len(detection.text) >= _LEAST_GUESSED


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

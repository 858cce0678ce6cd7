"""Which symbols a photo holds: one `Symbol` for each printed one, and no more.

zxing-cpp goes over the whole frame first. What it reads needs one more witness;
where there are bars that it did not read, the slower ways of `reading` are tried, one
place at a time, so that cost grows with difficulty alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pairing.findings import Finding
from pairing.model import Quad, Symbol
from pairing.photos.barcodes.decoding import quick_witness, read_place
from pairing.photos.barcodes.engines import CODE_128, Detection, Engines, Gray, Scope, load_engines
from pairing.photos.barcodes.halved import Halved
from pairing.photos.barcodes.others import is_believable, matrix_symbols, stands_apart, symbol_of
from pairing.photos.barcodes.quads import (
    contains,
    grown,
    height_px,
    length_px,
    quad_of,
)
from pairing.photos.barcodes.search import read_blocks
from pairing.photos.barcodes.settling import (
    Found,
    Lonely,
    is_known,
    lonely_symbols,
    settle,
)
from pairing.photos.barcodes.stacks import unstacked
from pairing.photos.barcodes.votes import Vote, outcome
from pairing.photos.code128 import encoding


@dataclass(frozen=True, slots=True, kw_only=True)
class SymbolReport:
    """What a photo's bars say.

    symbols: each printed symbol once, Code 128 and others (see `Symbol.kind`).
        Every Code 128 symbol has two independent witnesses.
    conflicts: places that were read in more than one way, or by one witness alone;
        none of those readings is among `symbols`.
    missing: one sentence about each engine that could not be loaded.
    unread: places that hold bars, of whatever symbology, which nobody read.
    lonely: what one witness alone read; their findings are among `conflicts`, they are not among
        `symbols`.
    """

    symbols: tuple[Symbol, ...]
    conflicts: tuple[Finding, ...]
    missing: tuple[str, ...]
    unread: tuple[Quad, ...] = ()
    lonely: tuple[Lonely, ...] = ()


def read_symbols(gray: NDArray[np.uint8]) -> SymbolReport:
    """Read every symbol in a gray photo, (height, width) uint8."""
    engines = load_engines()
    found = Found()
    photo = Halved(gray)
    for detection in _frame_reads(photo, engines):
        _take_detection(gray, detection, engines, found)
    read_blocks(photo, engines, found)
    found.symbols += [s for s in found.others if not is_known(s.quad, found)]
    if not found.symbols and not found.findings and engines.zxing is not None:
        found.symbols += matrix_symbols(gray, engines.zxing)
    lonely = lonely_symbols(gray, found)
    findings = [*found.findings, *dict.fromkeys(one.finding for one in lonely)]
    return SymbolReport(
        symbols=tuple(found.symbols),
        conflicts=tuple(findings),
        missing=engines.missing,
        unread=tuple(quad for quad in found.unread if not is_known(quad, found)),
        lonely=lonely,
    )


def _frame_reads(photo: Halved, engines: Engines) -> list[Detection]:
    """zxing-cpp's detections, with symbols that it joined taken apart.

    zbar costs ten times as much and only helps where bars are: it sees the blocks.
    """
    if engines.zxing is None:
        return []
    # Where Code 128 was read, no other symbology is searched for: that costs a third more.
    found = engines.zxing.read_frame(photo, scope=Scope.CODE_128) or engines.zxing.read_frame(
        photo, scope=Scope.LINEAR
    )
    return [part for whole in found for part in unstacked(photo.gray, whole)]


def _take_detection(gray: Gray, detection: Detection, engines: Engines, found: Found) -> None:
    if detection.kind != CODE_128:
        if is_believable(detection) and stands_apart(gray, quad_of(detection.points)):
            found.others.append(symbol_of(detection))
        return
    quad = quad_of(detection.points)
    if any(s.text == detection.text and contains(s.quad, quad.center) for s in found.symbols):
        return  # another slice of a symbol that was read
    votes: tuple[Vote, ...] = (Vote.of(detection, quad),)
    if engines.zbar is not None:
        modules = encoding.shortest_modules(detection.text, aim=detection.aim)
        votes += quick_witness(gray, quad, engines.zbar, modules)
    if not outcome(votes).accepted:
        x_px = length_px(quad) / encoding.shortest_modules(detection.text, aim=detection.aim)
        tall = grown(quad, along_px=0, across_px=0 if height_px(quad) > 6 * x_px else 3 * x_px)
        votes = read_place(gray, tall, engines, votes)
    settle(gray, votes, found)

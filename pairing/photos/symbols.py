"""Which symbols a photo holds: one `Symbol` for each printed one, and no more."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pairing.model import Finding, Symbol
from pairing.photos.engines import CODE_128, Detection, Engine, Gray, Scope, load_engines
from pairing.photos.merging import merge_detections
from pairing.photos.stacks import unstacked


@dataclass(frozen=True, slots=True, kw_only=True)
class SymbolReport:
    """What a photo's bars say.

    symbols: each printed symbol once, Code 128 and others (see `Symbol.kind`).
    conflicts: places that were read in more than one way; none of those readings
        is among `symbols`.
    missing: one sentence about each engine that could not be loaded.
    """

    symbols: tuple[Symbol, ...]
    conflicts: tuple[Finding, ...]
    missing: tuple[str, ...]


def read_symbols(gray: NDArray[np.uint8]) -> SymbolReport:
    """Read every symbol in a grey photo, (height, width) uint8."""
    engines = load_engines()
    found = _zxing_reads(gray, engines.zxing)
    if engines.zbar is not None:
        found += engines.zbar.read(gray)
    symbols, conflicts = merge_detections(found)
    return SymbolReport(symbols=symbols, conflicts=conflicts, missing=engines.missing)


def _zxing_reads(gray: Gray, zxing: Engine | None) -> list[Detection]:
    if zxing is None:
        return []
    found = zxing.read(gray, scope=Scope.LINEAR)
    if not any(d.kind == CODE_128 for d in found):
        # Matrix symbols cost ten times the bars; name them only where nothing else is.
        found = zxing.read(gray, scope=Scope.ALL)
    return [part for whole in found for part in unstacked(gray, whole)]

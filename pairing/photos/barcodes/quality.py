"""How well a symbol is printed, estimated from a photo after ISO/IEC 15416.

A verifier measures reflectance with a calibrated light, aperture and geometry. A
photo has none of these: its gray levels are the camera's own. What comes out here is
an estimate for people who choose a printer or a label, not a grade in the sense of
the standard.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Symbol
from pairing.photos.barcodes.engines import Gray
from pairing.photos.barcodes.rectify import flat_cut
from pairing.photos.code128 import encoding

Floats = NDArray[np.float64]

SCAN_LINES = 10
"""Scan profiles whose mean is the symbol's grade (ISO/IEC 15416 5.4; from memory)."""

_COLUMNS_PER_MODULE = 8
_QUIET_MODULES = 12
_FAR_OFF, _CHARACTERS_OFF = -1.0, 2
"""Two characters a whole module off are other characters: another start and its check."""

_LEAST_X_PX = 1.5  # below, a photo's pixels, not the print, decide the profile

# The 2000 edition's edges of grades 4, 3, 2, 1 (axicon.com/fractional-grading; the
# Kodak table): symbol contrast, modulation, decodability from below, defects from above.
_CONTRAST = (0.70, 0.55, 0.40, 0.20)
_MODULATION = (0.70, 0.60, 0.50, 0.40)
_DECODABILITY = (0.62, 0.50, 0.37, 0.25)
_DEFECTS = (0.15, 0.20, 0.25, 0.30)
_LEAST_EDGE_CONTRAST = 0.15
_LETTERS = ((3.5, "A"), (2.5, "B"), (1.5, "C"), (0.5, "D"), (0.0, "F"))


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanEstimate:
    """The parameters of one scan profile, each 0..1; reflectance is gray level / 255.

    grade: the lowest of its parameters' grades, 0..4.
    """

    symbol_contrast: float
    minimum_reflectance: float
    modulation: float
    defects: float
    decodability: float
    is_quiet_zone_clear: bool
    grade: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintEstimate:
    """An estimate of a symbol's print quality.

    grade: mean over the scans, 0.0..4.0; letter: its band.
    weakest: the parameter that most often holds the grade down.
    """

    scans: tuple[ScanEstimate, ...]
    grade: float
    letter: str
    weakest: str


def estimate_print(gray: Gray, symbol: Symbol) -> PrintEstimate | None:
    """Estimate the print quality of a Code 128 symbol in a gray photo.

    None for other symbologies, where a module is under 1.5 px, and where the bars are not
    those of the shortest symbol for the text: one text can be said in several ways, and
    decodability needs the true one.
    """
    if not symbol.aim.startswith("]C") or symbol.x_px < _LEAST_X_PX:
        return None
    widths = _element_widths(symbol)
    if widths is None:
        return None
    modules = int(widths.sum())
    flat = flat_cut(
        gray,
        symbol.quad,
        columns=modules * _COLUMNS_PER_MODULE,
        rows=SCAN_LINES * 3,
        quiet_columns=_QUIET_MODULES * _COLUMNS_PER_MODULE,
    ).astype(np.float64)
    soft = cv2.blur(flat, (max(1, round(0.8 * _COLUMNS_PER_MODULE)), 1))  # aperture 0.8 X
    lines = [soft[3 * line + 1] / 255.0 for line in range(SCAN_LINES)]
    if sum(_is_other_spelling(line, widths) for line in lines) > SCAN_LINES // 2:
        return None
    return _summary(tuple(_scan(line, widths) for line in lines))


def _element_widths(symbol: Symbol) -> NDArray[np.int64] | None:
    values = encoding.shortest_values(symbol.text, aim=symbol.aim)
    if values is None:
        return None
    characters = [encoding.WIDTHS[v] for v in (*values, encoding.check_value(values))]
    return np.array([int(w) for c in (*characters, encoding.STOP_WIDTHS) for w in c])


def _scan(profile: Floats, widths: NDArray[np.int64]) -> ScanEstimate:
    """One profile: quiet zone, bars and quiet zone at `_COLUMNS_PER_MODULE` columns a module."""
    highest, lowest = float(profile.max()), float(profile.min())
    contrast = highest - lowest
    threshold = (highest + lowest) / 2
    edges = _found_edges(profile, threshold, widths)
    if edges is None:
        return _failed(contrast, lowest, highest)
    bounds = np.concatenate(([0], edges, [len(profile)])).astype(int)
    pieces = [profile[a:b] for a, b in pairwise(bounds)]
    if not all(len(piece) for piece in pieces):
        return _failed(contrast, lowest, highest)
    peaks = [float(p.max()) if i % 2 == 0 else float(p.min()) for i, p in enumerate(pieces)]
    edge_contrast = float(np.abs(np.diff(peaks)).min())
    modulation = edge_contrast / contrast if contrast > 0 else 0.0
    unevenness = max(_unevenness(p, is_bar=i % 2 == 1) for i, p in enumerate(pieces))
    defects = unevenness / contrast if contrast > 0 else 1.0
    decodability = _decodability(edges, widths)
    quiet = _is_quiet(profile, edges, threshold)
    grades = (
        _graded(contrast, _CONTRAST),
        4 if lowest <= 0.5 * highest else 0,
        4 if edge_contrast >= _LEAST_EDGE_CONTRAST else 0,
        _graded(modulation, _MODULATION),
        _graded(-defects, tuple(-d for d in _DEFECTS)),
        _graded(decodability, _DECODABILITY),
        4 if quiet else 0,
    )
    return ScanEstimate(
        symbol_contrast=contrast,
        minimum_reflectance=lowest,
        modulation=modulation,
        defects=defects,
        decodability=decodability,
        is_quiet_zone_clear=quiet,
        grade=min(grades),
    )


def _is_other_spelling(profile: Floats, widths: NDArray[np.int64]) -> bool:
    """Whether these are the bars of whole characters, but not of those expected.

    A lost bar or a blot changes the number of edges by two; another spelling changes it by
    whole characters of six, or leaves it and misreads many of them.
    """
    threshold = (float(profile.max()) + float(profile.min())) / 2
    extra = len(_crossings(profile, threshold, widths)) - (len(widths) + 1)
    if extra:
        return extra % 6 == 0
    edges = _found_edges(profile, threshold, widths)
    rooms = _rooms(edges, widths) if edges is not None else []
    return sum(room <= _FAR_OFF for room in rooms) >= _CHARACTERS_OFF


def _failed(contrast: float, lowest: float, highest: float) -> ScanEstimate:
    return ScanEstimate(
        symbol_contrast=contrast,
        minimum_reflectance=lowest,
        modulation=0.0,
        defects=1.0,
        decodability=0.0,
        is_quiet_zone_clear=False,
        grade=0,
    )


def _crossings(profile: Floats, threshold: float, widths: NDArray[np.int64]) -> NDArray[np.intp]:
    """The columns after which the profile crosses the threshold, near the symbol."""
    dark = profile < threshold
    steps = np.flatnonzero(dark[1:] != dark[:-1])
    first = _QUIET_MODULES * _COLUMNS_PER_MODULE
    last = first + int(widths.sum()) * _COLUMNS_PER_MODULE
    reach = 1.5 * _COLUMNS_PER_MODULE
    return steps[(steps > first - reach) & (steps < last + reach)]


def _found_edges(profile: Floats, threshold: float, widths: NDArray[np.int64]) -> Floats | None:
    """Where the profile crosses the threshold, one edge per element border; None if not so."""
    steps = _crossings(profile, threshold, widths)
    if len(steps) != len(widths) + 1 or not profile[steps[0] + 1] < threshold:
        return None
    a, b = profile[steps], profile[steps + 1]
    return np.asarray(steps + (threshold - a) / (b - a) + 0.5)


def _unevenness(piece: Floats, *, is_bar: bool) -> float:
    """Element reflectance non-uniformity: the largest dip and rise within one element.

    The standard takes the difference between the highest peak and the lowest valley
    inside an element; a profile without an inner extremum has none.
    """
    line = -piece if is_bar else piece
    inner = line[1:-1]
    if len(inner) < 3:
        return 0.0
    peaks = np.flatnonzero((inner >= line[:-2]) & (inner >= line[2:])) + 1
    if len(peaks) < 2:
        return 0.0
    first, last = int(peaks[0]), int(peaks[-1])
    valley = float(line[first : last + 1].min())
    return float(line[peaks].max()) - valley


def _decodability(edges: Floats, widths: NDArray[np.int64]) -> float:
    """The room that is left before an edge-to-similar-edge distance rounds wrongly.

    For (n, k) symbologies: each e measured in X should be a whole number; half a
    module is the whole room (ISO/IEC 15417 4.7 and 15416 5.4.9; from memory).
    """
    return max(0.0, min(_rooms(edges, widths)))


def _rooms(edges: Floats, widths: NDArray[np.int64]) -> list[float]:
    """For each character, the least room of its distances: 1 exact, 0 or less misread."""
    rooms = []
    for start in range(0, len(widths) - len(encoding.STOP_WIDTHS), 6):
        worst = 1.0
        mine = edges[start : start + 7]
        x = (mine[6] - mine[0]) / encoding.CHARACTER_MODULES
        for first in range(5):
            measured = (mine[first + 2] - mine[first]) / x
            nominal = int(widths[start + first] + widths[start + first + 1])
            worst = min(worst, 1 - abs(float(measured) - nominal) / 0.5)
        rooms.append(worst)
    return rooms


def _is_quiet(profile: Floats, edges: Floats, threshold: float) -> bool:
    """Whether ten modules on either side stay lighter than the threshold."""
    reach = encoding.QUIET_ZONE_MODULES * _COLUMNS_PER_MODULE
    first, last = int(edges[0]) - 1, int(edges[-1]) + 1
    before = profile[max(0, first - reach) : first]
    after = profile[last : last + reach]
    return bool(before.min() > threshold and after.min() > threshold)


def _graded(value: float, borders: tuple[float, ...]) -> int:
    return sum(1 for border in borders if value >= border - 1e-9)


def _summary(scans: tuple[ScanEstimate, ...]) -> PrintEstimate:
    grade = round(sum(s.grade for s in scans) / len(scans), 1)
    letter = next(name for least, name in _LETTERS if grade >= least)
    return PrintEstimate(scans=scans, grade=grade, letter=letter, weakest=_weakest(scans))


def _weakest(scans: tuple[ScanEstimate, ...]) -> str:
    means = {
        "symbol contrast": np.mean([_graded(s.symbol_contrast, _CONTRAST) for s in scans]),
        "modulation": np.mean([_graded(s.modulation, _MODULATION) for s in scans]),
        "defects": np.mean([_graded(-s.defects, tuple(-d for d in _DEFECTS)) for s in scans]),
        "decodability": np.mean([_graded(s.decodability, _DECODABILITY) for s in scans]),
        "the quiet zone": np.mean([4 * s.is_quiet_zone_clear for s in scans]),
    }
    return min(means, key=lambda name: float(means[name]))

"""One profile out of many rows: what the bars say along the symbol.

Rows are brought to one brightness, shifted onto each other where paper is creased
or curved, and averaged with more trust in rows that show contrast and agree with
the rest; glare, streaks and lines of text lose their say.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.barcodes.rectify import Strip

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]

_BANDS = 24
_ONE_PATTERN = 0.5  # correlation of neighboring bands of one symbol, at least
_LEAST_RUN = 3  # bands
_BARE = 4e-4  # energy of bare paper, as a share of the bars'
_ENDS_WINDOWS = 24  # windows on a strip in which its two halves are compared
_SHARED = 0.5
"""Correlation of the halves in one window, at least. Measured on the damage ladder and tilted
reference photos: it cut into true bars once (glare), by 6 % of their length."""

_GAIN = 1.06  # what registration must gain in energy to be believed
_REACH = 4  # columns that neighboring bands may be shifted against each other


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """Darkness along a strip.

    dark: per column; about 0 in spaces and 1 in bars, locally normalized.
    trust: per column 0..1, low where the bars have no contrast.
    agreement: correlation of the upper half with the lower half over the bars.
    """

    dark: Floats
    trust: Floats
    agreement: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Profiles:
    """The profile of all rows, and of two disjoint halves of them.

    top, bottom: the rows between which the bars were found.
    bars: the columns between which anything stands out, within the strip's own guess.
    """

    whole: Profile
    upper: Profile
    lower: Profile
    top: float
    bottom: float
    bars: tuple[float, float]


def profiles_of(strip: Strip) -> Profiles:
    """Average a strip's rows into profiles."""
    bands, edges = _banded(strip.pixels)
    signal, energy = _normalized(bands)
    reference, say = _reference(signal, energy)
    registered = _registered(signal, reference, say)
    if registered is not None:
        signal = registered
        reference, say = _reference(signal, energy)
    shown = say.mean(axis=1)
    alive = np.flatnonzero(shown > 0.25 * np.percentile(shown, 80))
    first, last = int(alive[0]), int(alive[-1])
    if first == last:  # one band cannot be halved; nothing would confirm it
        first, last = max(0, first - 1), min(len(signal) - 1, last + 1)
    share = np.cumsum(shown[first : last + 1])
    half = first + int(np.searchsorted(share, share[-1] / 2))
    half = int(np.clip(half, first + 1, last))
    upper = _averaged(signal, energy, say, slice(first, half))
    lower = _averaged(signal, energy, say, slice(half, last + 1))
    whole = _averaged(signal, energy, say, slice(first, last + 1))
    bars = slice(int(strip.bars[0]), max(int(strip.bars[1]), int(strip.bars[0]) + 8))
    agreement = _correlation(upper[0][bars], lower[0][bars])
    return Profiles(
        whole=_profile(*whole, agreement),
        upper=_profile(*upper, agreement),
        lower=_profile(*lower, agreement),
        top=float(edges[first]),
        bottom=float(edges[last + 1]),
        bars=_shared(upper[0], lower[0], _standing_out(whole[1], strip.bars)),
    )


def _standing_out(strength: Floats, bars: tuple[float, float]) -> tuple[float, float]:
    """`bars` without bare paper at the ends; bars in deep shade stand out far more."""
    alive = np.flatnonzero(strength > _BARE * np.percentile(strength, 80))
    first, last = max(bars[0], float(alive[0])), min(bars[1], float(alive[-1] + 1))
    return (first, last) if last - first > 0.5 * (bars[1] - bars[0]) else bars


def _shared(upper: Floats, lower: Floats, bars: tuple[float, float]) -> tuple[float, float]:
    """`bars` without ends in which the two halves have nothing in common: paper and its grain.

    Differences over two columns are compared, for paper's shading is common to both halves too.
    """
    rise, fall = (np.subtract(half[2:], half[:-2], dtype=np.float32) for half in (upper, lower))
    width = max(15, len(upper) // _ENDS_WINDOWS) | 1
    power = np.maximum(_power(rise, width) * _power(fall, width), 1e-12)
    likeness = cv2.blur((rise * fall)[None], (width, 1))[0] / np.sqrt(power)
    first, last = int(max(bars[0], 0)), int(bars[1])
    alike = np.flatnonzero(likeness[first:last] > _SHARED)
    if len(alike) < 2 or alike[-1] - alike[0] < 0.5 * (last - first):
        return bars
    # A window that reaches the bars with its edge alone is alike where the paper is clean.
    inset = width // 4
    return (
        float(first + alike[0] + inset) if alike[0] > 0 else bars[0],
        float(first + alike[-1] + 2 - inset) if alike[-1] < last - first - 3 else bars[1],
    )


def row_runs(strip: Strip) -> list[tuple[float, float]]:
    """Runs of rows (first, one past the last) that show one pattern of bars each.

    Two symbols one above the other, or a symbol and the text below it, make several.
    """
    bands, edges = _banded(strip.pixels)
    signal, energy = _normalized(bands)
    inside = slice(int(max(strip.bars[0], 0)), int(strip.bars[1]))
    unit = (signal / np.sqrt(energy + 0.02 * float(energy.max()) + 1e-3))[:, inside]
    runs: list[tuple[int, int]] = []
    start = 0
    for band in range(1, len(unit) + 1):
        same = band < len(unit) and _correlation_near(unit[band - 1], unit[band]) > _ONE_PATTERN
        if not same:
            if band - start >= _LEAST_RUN:
                runs.append((start, band))
            start = band
    return [(float(edges[a]), float(edges[b])) for a, b in runs]


def _correlation_near(a: Floats32, b: Floats32) -> float:
    """Correlation of two bands that may be shifted against each other by two columns."""
    inner = a[2:-2].astype(np.float64)
    return max(_correlation(inner, b[s : len(b) - 4 + s].astype(np.float64)) for s in range(5))


def _banded(pixels: Floats32) -> tuple[Floats32, NDArray[np.int64]]:
    """Rows averaged into bands, and the bands' borders.

    A row is first cleared of rows that lost their bars: averaging a streak into a
    band would only weaken it, so rows weigh by their own contrast.
    """
    rows = len(pixels)
    count = min(_BANDS, rows)
    edges = np.linspace(0, rows, count + 1).astype(np.int64)
    spread = pixels.std(axis=1)
    weight = (spread / max(float(spread.max()), 1e-3)) ** 2 + 1e-6
    share = np.zeros((count, rows), np.float32)
    for band, (a, b) in enumerate(pairwise(edges)):
        share[band, a:b] = weight[a:b] / weight[a:b].sum()
    return np.asarray(share @ pixels, np.float32), edges


def _normalized(bands: Floats32) -> tuple[Floats32, Floats32]:
    """Each band without its local mean, and its local energy."""
    width = max(15, bands.shape[1] // 12) | 1
    blur = (width, 1)
    mean = cv2.blur(bands, blur, borderType=cv2.BORDER_REPLICATE)
    signal = bands - mean
    energy = cv2.blur(signal * signal, blur, borderType=cv2.BORDER_REPLICATE)
    return np.asarray(signal, np.float32), np.asarray(energy, np.float32)


def _reference(signal: Floats32, energy: Floats32) -> tuple[Floats32, Floats32]:
    """The common signal (unit energy), and each band's say in it, column by column."""
    say = np.ones_like(signal)
    width = max(15, signal.shape[1] // 8) | 1
    scale = np.sqrt(energy + 0.02 * float(energy.max()) + 1e-3)
    unit = signal / scale
    reference = np.zeros(signal.shape[1], np.float32)
    for _ in range(2):
        top = (say * signal * scale).sum(axis=0)
        bottom = (say * scale * scale).sum(axis=0) + 1e-6
        reference = (top / bottom).astype(np.float32)
        norm = np.sqrt(cv2.blur((reference**2)[None], (width, 1))[0] + 1e-4)
        likeness = cv2.blur(unit * (reference / norm)[None], (width, 1))
        say = np.clip(likeness, 0.0, 1.0) ** 2
    return reference, np.asarray(say, np.float32)


def _averaged(
    signal: Floats32, energy: Floats32, say: Floats32, rows: slice
) -> tuple[Floats, Floats]:
    """(signal with about unit contrast, its energy per column) of some bands."""
    scale2 = energy[rows] + 0.02 * float(energy[rows].max()) + 1e-3
    weight = say[rows] + 1e-4
    top = (weight * signal[rows] * np.sqrt(scale2)).sum(axis=0)
    bottom = (weight * scale2).sum(axis=0)
    strength = (weight * energy[rows]).sum(axis=0) / weight.sum(axis=0)
    return (top / bottom).astype(np.float64), strength.astype(np.float64)


def _profile(signal: Floats, strength: Floats, agreement: float) -> Profile:
    """Darkness between the local light and dark levels."""
    size = len(signal)
    window = max(24, size // 8)
    centers = np.linspace(0, size - 1, 17)
    light, dark = np.empty(17), np.empty(17)
    for i, center in enumerate(centers):
        part = np.sort(signal[max(0, int(center) - window) : int(center) + window + 1])
        light[i], dark[i] = part[round(0.93 * (len(part) - 1))], part[round(0.07 * (len(part) - 1))]
    columns = np.arange(size)
    high = np.interp(columns, centers, light)
    low = np.interp(columns, centers, dark)
    darkness = (high - signal) / np.maximum(high - low, 0.2)
    trust = np.clip(strength / (0.1 * np.percentile(strength, 90) + 1e-9), 0, 1)
    return Profile(dark=np.clip(darkness, -0.5, 1.5), trust=trust, agreement=agreement)


def _correlation(a: Floats, b: Floats) -> float:
    a, b = a - a.mean(), b - b.mean()
    norm = float(np.sqrt((a * a).sum() * (b * b).sum()))
    return float((a * b).sum()) / norm if norm > 0 else 0.0


def _registered(signal: Floats32, reference: Floats32, say: Floats32) -> Floats32 | None:
    """The bands shifted onto each other, None where that gains nothing.

    Starting with the band that agrees best, each is compared with the running
    average next to it; a band may move by `_REACH` columns against its neighbor.
    """
    count, size = signal.shape
    before = float((signal.mean(axis=0) ** 2).mean())
    # However they are shifted, their mean is no stronger than the mean of their strengths.
    most = float(np.sqrt((signal * signal).mean(axis=1)).mean()) ** 2
    if count < 3 or _GAIN * before >= most:
        return None
    start = int(np.argmax(say.mean(axis=1)))
    tiles = int(np.clip(size // 60, 4, 16))
    centers = np.linspace(0, size - 1, tiles)
    width = max(25, size // tiles) | 1
    shift = np.zeros((count, tiles))
    out = signal.copy()
    for order in (range(start - 1, -1, -1), range(start + 1, count)):
        running = signal[start].copy()
        previous = shift[start].copy()
        for band in order:
            moved, step = _aligned(signal[band], running, previous, centers, width)
            previous = shift[band] = step
            out[band] = moved
            running = 0.75 * running + 0.25 * moved
    if float(np.abs(shift).max()) < 0.35:
        return None
    after = float((out.mean(axis=0) ** 2).mean())
    return out if after > _GAIN * before else None


def _aligned(
    band: Floats32, running: Floats32, start: Floats, centers: Floats, width: int
) -> tuple[Floats32, Floats]:
    size = len(band)
    columns = np.arange(size)
    base = columns + np.interp(columns, centers, start)
    moved = np.interp(base, columns, band).astype(np.float32)
    steps = np.arange(-_REACH, _REACH + 1)
    padded = np.pad(moved, _REACH, mode="edge")
    products = np.stack([padded[_REACH + s : _REACH + s + size] * running for s in steps])
    scores = cv2.blur(products, (width, 1))[:, np.round(centers).astype(int)]
    energy = np.sqrt(_power(moved, width) * _power(running, width))[np.round(centers).astype(int)]
    energy = energy + 1e-6
    best = np.argmax(scores - 0.002 * energy * np.abs(steps)[:, None], axis=0)
    tile = np.arange(len(centers))
    inner = np.clip(best, 1, len(steps) - 2)
    left, mid, right = (scores[inner + d, tile] for d in (-1, 0, 1))
    bend = left - 2 * mid + right
    fine = np.where(bend < 0, 0.5 * (left - right) / np.minimum(bend, -1e-9), 0.0)
    step = steps[inner] + np.clip(fine, -1, 1)
    likeness = scores[inner, tile] / energy
    step = np.where(likeness > 0.4, step, 0.0)
    weight = np.clip(likeness, 0.05, 1.0)
    step = np.convolve(step * weight, [0.25, 0.5, 0.25], "same") / np.convolve(
        weight, [0.25, 0.5, 0.25], "same"
    )
    total = start + step
    base = columns + np.interp(columns, centers, total)
    return np.interp(base, columns, band).astype(np.float32), total


def _power(line: Floats32, width: int) -> Floats32:
    """Mean square within a window; never below zero, as a running sum may come out."""
    return np.asarray(np.maximum(cv2.blur((line * line)[None], (width, 1))[0], 0.0), np.float32)

"""Lines on a card that look like the number of its box, proposed for reading."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.finder.segmentation import (
    EVERY_PX,
    NUMBER,
    STRIDE,
    STROKE,
    WRITING,
    Scores,
    Segmenter,
    far,
    is_installed,
)

Corners = NDArray[np.float64]

_PX_PER_MM = 5.0
_LEAST_PX_PER_MM = 3.8
"""The scales that the network was taught reach from 3.7 to 6.4 px a mm."""
_MOST_PX = 560_000
"""Of the picture that the network is run over: a card of 170 by 110 mm at 5 px a mm is 470,000."""
_REACH_MM = 170.0
"""So far from the middle of the card's own bars its box lies at most: cards are up to 190 mm long,
and bars that stand upright lie at an end."""
_CARD_SHARE = 0.88
_CARD_MM = 150.0
"""Without bars to measure by, the card is taken to be so long and to fill so much of the photo."""
_APART_MM, _LEVEL_MM = 4.5, 0.8
"""Pixels of one line are no farther apart along it, and across it."""
_LEAST_LONG_MM, _TALL_MM = 18.0, (1.2, 10.0)
_BARS_MM = 52.0
"""`photos.written.plane.PX_PER_MM`'s: 22 digits at a narrow bar of 0.33 mm."""
_FEWEST_PX = 25
_STRAIGHT = 0.8
"""Cosine between a group's longer axis and its reading direction."""
_LEAST_SHARE = 0.15
"""Beside the line with the most pixels of a number one with less than this share is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A line that looks like the number. corners: (4, 2), px of the photo, in reading direction
    from the left top, close around its characters. px_per_mm: of the photo, about. altered: the
    probability that it is struck out, written over or added to. share: of all the photo's pixels
    that look like a number's, those in this line."""

    corners: Corners
    px_per_mm: float
    altered: float
    share: float


def proposals(
    photo: NDArray[np.uint8], bars: Corners | None, network: Segmenter | None = None
) -> tuple[Proposal, ...]:
    """The lines that look like the number of the box, the likeliest first. photo: gray (h, w)
    uint8. bars: corners (4, 2) of the card's own bars in reading direction, None where none were
    read. () where the networks are not installed."""
    if network is None and not is_installed():
        return ()
    px_per_mm = _px_per_mm(photo, bars)
    to_small, size = _laid(photo, bars, px_per_mm)
    scale = math.hypot(to_small[0, 0], to_small[0, 1])
    smooth = cv2.GaussianBlur(photo, (0, 0), 0.4 / scale) if scale < 0.8 else photo
    small = cv2.warpAffine(
        smooth, to_small, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    scores = (network or far()).look(np.asarray(small, np.uint8))
    back = np.linalg.inv(np.vstack([to_small, [0.0, 0.0, 1.0]]))[:2]
    back = back @ np.array([[STRIDE, 0, 0.5], [0, STRIDE, 0.5], [0, 0, 1.0]])
    return _lines(scores, back, scale * px_per_mm / STRIDE, px_per_mm)


def _px_per_mm(photo: NDArray[np.uint8], bars: Corners | None) -> float:
    if bars is None:
        return float(max(photo.shape)) * _CARD_SHARE / _CARD_MM
    return max(0.5, float(np.linalg.norm(bars[1] + bars[2] - bars[0] - bars[3])) / 2 / _BARS_MM)


def _laid(
    photo: NDArray[np.uint8], bars: Corners | None, px_per_mm: float
) -> tuple[NDArray[np.float64], tuple[int, int]]:
    """The (2, 3) map of the photo to the network's picture, bars along it, and that one's size."""
    high, wide = photo.shape
    edges = np.array([(0, 0), (wide, 0), (wide, high), (0, high)], np.float64)
    along = np.array([1.0, 0.0]) if bars is None else bars[1] + bars[2] - bars[0] - bars[3]
    along = along / max(1e-9, float(np.linalg.norm(along)))
    turn = np.array([along, [-along[1], along[0]]])
    seen = edges @ turn.T
    low, most = seen.min(0), seen.max(0)
    if bars is not None:
        middle = turn @ bars.mean(0)
        low = np.maximum(low, middle - _REACH_MM * px_per_mm)
        most = np.minimum(most, middle + _REACH_MM * px_per_mm)
    area_mm2 = float(np.prod(most - low)) / px_per_mm**2
    fine = max(_LEAST_PX_PER_MM, min(_PX_PER_MM, math.sqrt(_MOST_PX / area_mm2)))
    scale = fine / px_per_mm
    size = np.ceil((most - low) * scale / EVERY_PX).astype(int) * EVERY_PX
    matrix = np.column_stack([turn * scale, -low * scale])
    return matrix, (int(size[0]), int(size[1]))


def _lines(
    scores: Scores, back: NDArray[np.float64], per_mm: float, px_per_mm: float
) -> tuple[Proposal, ...]:
    """Groups of a number's pixels that lie along their reading direction. back: (2, 3), from the
    scores' px to the photo's. per_mm: of the scores' px."""
    number = scores.kinds == NUMBER
    if number.sum() < _FEWEST_PX:
        return ()
    inked = number | (scores.kinds == WRITING) | (scores.kinds == STROKE)
    found = []
    for seed, facing in _seeds(number, scores, per_mm):
        line = _line(seed, facing, number, inked, per_mm)
        if line is None:
            continue
        corners, pixels = line
        found.append((int(pixels.sum()), Proposal(
            corners=corners @ back[:, :2].T + back[:, 2],
            px_per_mm=px_per_mm,
            altered=float(scores.altered[pixels].mean()),
            share=float(pixels.sum()) / float(number.sum()),
        )))  # fmt: skip
    found.sort(key=lambda row: -row[0])
    kept: list[Proposal] = []
    for many, one in found:
        if many >= _LEAST_SHARE * found[0][0] and not any(_is_in(one, other) for other in kept):
            kept.append(one)
    return tuple(kept)


def _is_in(one: Proposal, other: Proposal) -> bool:
    """Whether a line's middle lies in another line."""
    x, y = one.corners.mean(0)
    around = other.corners.astype(np.float32).reshape(-1, 1, 2)
    return cv2.pointPolygonTest(around, (float(x), float(y)), False) >= 0


def _seeds(
    number: NDArray[np.bool_], scores: Scores, per_mm: float
) -> list[tuple[NDArray[np.bool_], NDArray[np.float64]]]:
    """Pixels of a number grouped, each group with its reading direction."""
    groups = []
    upright = np.abs(scores.facing[1]) > np.abs(scores.facing[0])
    long, low = (2 * round(v * per_mm / 2) + 1 for v in (_APART_MM, _LEVEL_MM))
    for is_upright in (False, True):
        part = (number & (upright == is_upright)).astype(np.uint8)
        kernel = np.ones((long, low) if is_upright else (low, long), np.uint8)
        count, labels = cv2.connectedComponents(cv2.morphologyEx(part, cv2.MORPH_CLOSE, kernel))
        for at in range(1, count):
            pixels = (labels == at) & (part > 0)
            if pixels.sum() >= _FEWEST_PX:
                facing = scores.facing[:, pixels].mean(1).astype(np.float64)
                groups.append((pixels, facing / max(1e-6, float(np.linalg.norm(facing)))))
    return groups


def _line(
    seed: NDArray[np.bool_],
    facing: NDArray[np.float64],
    number: NDArray[np.bool_],
    inked: NDArray[np.bool_],
    per_mm: float,
) -> tuple[Corners, NDArray[np.bool_]] | None:
    """The line that a group is in, to where its writing ends on both sides: corners in the
    scores' px, and the number's pixels in it. None where it is no line."""
    ys, xs = np.nonzero(seed)
    points = np.stack([xs, ys], 1).astype(np.float64)
    spread = np.linalg.svd(points - points.mean(0), full_matrices=False)[2][0]
    along = spread if spread @ facing > 0 else -spread
    if along @ facing < _STRAIGHT:
        return None
    down = np.array([-along[1], along[0]])
    middle = points.mean(0)
    off = (points - middle) @ down
    low, high = np.percentile(off, (4, 96))
    if not _TALL_MM[0] < (high - low + 1) / per_mm < _TALL_MM[1]:
        return None
    ys, xs = np.nonzero(inked)
    every = np.stack([xs, ys], 1) - middle
    aside = every @ down
    level = every[(aside >= low) & (aside <= high)] @ along
    own = (points - middle) @ along
    first, last = _run(np.sort(level), float(own.min()), float(own.max()), _APART_MM * per_mm)
    if (last - first) / per_mm < _LEAST_LONG_MM:
        return None
    corners = np.array([
        middle + along * x + down * y
        for x, y in ((first, low), (last, low), (last, high), (first, high))
    ])  # fmt: skip
    ys, xs = np.nonzero(number)
    every = np.stack([xs, ys], 1) - middle
    x, y = every @ along, every @ down
    inside = (x >= first) & (x <= last) & (y >= low - 1) & (y <= high + 1)
    pixels = np.zeros_like(number)
    pixels[ys[inside], xs[inside]] = True
    return corners, pixels


def _run(
    level: NDArray[np.float64], first: float, last: float, apart: float
) -> tuple[float, float]:
    """The stretch from `first` to `last` widened over what lies no farther apart."""
    for x in level[level > last]:
        if x - last > apart:
            break
        last = float(x)
    for x in level[level < first][::-1]:
        if first - x > apart:
            break
        first = float(x)
    return first, last

"""A symbol's edges as lines in the photo, and how far its bars reach."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pairing.photos.barcodes.quads import Floats

_FEWEST_ON_CURVE, _CURVE_ROUNDS = 10, 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """A line in the photo, through `at` along `along`."""

    at: Floats
    along: Floats

    def crossed(self, other: Edge) -> Floats:
        """Where two lines cross. Raises LinAlgError for parallel ones."""
        matrix = np.stack([self.along, -other.along], axis=1)
        return np.asarray(self.at + self.along * np.linalg.solve(matrix, other.at - self.at)[0])


def fitted_edge(points: Floats, most_off_px: float) -> Edge | None:
    """The line that most of the points (n, 2) lie on, each within `most_off_px`."""
    most_off_px = max(most_off_px, 1.0)
    first, second = np.triu_indices(len(points), 3)
    if not len(first):
        return None
    off = points[None] - points[:, None]  # from each point to each other
    along = off[first, second]
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    normal /= np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-9)[:, None]
    near = np.abs((off[first] * normal[:, None]).sum(axis=2)) <= most_off_px
    best = near[int(near.sum(axis=1).argmax())]
    if best.sum() < max(4, 0.5 * len(points)):
        return None
    chosen = points[best]
    middle = chosen.mean(axis=0)
    _, _, axes = np.linalg.svd(chosen - middle)
    ahead = axes[0] if float(axes[0] @ (points[-1] - points[0])) > 0 else -axes[0]
    return Edge(at=middle, along=ahead)


def fitted_curve(along: Floats, across: Floats, most_off: float) -> Floats | None:
    """The curve of the third degree on which most points (n,) lie, each within `most_off`, as
    `polyval` takes it; None where too few do."""
    kept = np.ones(len(along), bool)
    for _ in range(_CURVE_ROUNDS):
        if kept.sum() < _FEWEST_ON_CURVE:
            return None
        curve = np.polyfit(along[kept], across[kept], 3)
        kept = kept & (np.abs(np.polyval(curve, along) - across) <= most_off)
    return np.asarray(curve) if kept.sum() >= _FEWEST_ON_CURVE else None


def run_end(alike: NDArray[np.bool_], gap: int) -> NDArray[np.int64]:
    """For each column the last row of the run that begins near row 0 and has no hole longer
    than `gap`; -1 where there is none."""
    rows, columns = alike.shape
    at = np.where(alike, np.arange(rows)[:, None], -1)
    reached = np.maximum.accumulate(at, axis=0)
    hole = np.arange(rows)[:, None] - reached > gap
    ends = np.where(hole.any(axis=0), hole.argmax(axis=0), rows) - 1
    return np.asarray(reached[ends, np.arange(columns)], np.int64)

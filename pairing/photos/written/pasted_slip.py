"""Whether bars are on a slip of paper of their own that was pasted on a card.

On all four sides of a slip, a few mm from its bars and print, its paper ends, and what lies
beyond is one and the same paper: the card's. Of a label over which a card lies, or that shows
through where a card is torn, at least one side ends at the table, at the card's edge or not at all.
White paper on white paper is not told.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.written.plane import corners_of, homography, laid_flat, mapped, rectangle

Floats = NDArray[np.float64]

_PX_PER_MM = 10.0
_BARS_MM = 48.0
"""A strip's bars are about so long: 20 or 22 digits at 0.3 mm. Common practice, no source."""
_MARGIN_MM = 11.0
_CLOSED_MM = 1.9
"""Wider than a bar, a rule or a printed stroke: what is left is paper."""
_NEAR_MM, _FAR_MM = 0.3, 1.1
"""Paper is compared from so near to so far on both sides of an edge."""
_BEYOND_MM = 2.0
"""Beyond an edge, paper past the shadow of what lies on it."""
_PARTS = 12
_LEAST_STEP, _MOST_STEP = 1.02, 1.5
"""A card's paper is so much darker than a slip's. White on the palest green of
`tests/benchmarks/designs.py`: 1.07; in poor light that counts for half of it."""
_ALIKE = 0.06
_MOST_OFF_MM = 0.5
_ON_EDGE = 0.6
"""Of an edge's parts so many lie on one line."""


TOP, RIGHT, FOOT, LEFT = "top", "right", "foot", "left"
EVERY_SIDE = frozenset((TOP, RIGHT, FOOT, LEFT))
_OUT_MM = {TOP: 6.0, RIGHT: 9.0, FOOT: 9.0, LEFT: 9.0}
"""How far from the bars a slip may end; at its foot with its print."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """sides: on which sides the paper that bears bars is seen to end on a card; none unless its
    left and its right side are among them. beyond: places in the photo right beyond these sides,
    (n, 2) px."""

    sides: frozenset[str]
    beyond: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class _Edge:
    """factor: by what the paper gets darker at a slip's edge. level: the gray level beyond. at:
    places right beyond it, (n, 2): along the edge in shares of its length, and how far from the
    bars, px."""

    factor: float
    level: float
    at: Floats


def slip_on_card(photo: NDArray[np.uint8], bars: Quad) -> Slip:
    """The paper that bears these bars, as far as it is seen to be a slip on a card. photo: gray
    (h, w) uint8."""
    corners = corners_of(bars)
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    high_mm = _BARS_MM * float(sides[1] + sides[3]) / max(1.0, float(sides[0] + sides[2]))
    margin = _MARGIN_MM
    size = tuple(round((v + 2 * margin) * _PX_PER_MM) for v in (_BARS_MM, high_mm))
    flat = rectangle(margin, margin, _BARS_MM, high_mm) * _PX_PER_MM
    plane = laid_flat(photo, homography(flat, corners), (size[0], size[1]))
    soft = cv2.GaussianBlur(plane.gray, (0, 0), 0.12 * _PX_PER_MM)
    side = round(_CLOSED_MM * _PX_PER_MM) | 1
    paper = cv2.morphologyEx(soft, cv2.MORPH_CLOSE, np.ones((side, side), np.uint8))
    first = round(margin * _PX_PER_MM)
    middle = np.asarray(paper, np.float64)
    rows = middle[:, first : size[0] - first]
    columns = middle[first : size[1] - first]
    beyond = {
        TOP: rows[:first][::-1],
        FOOT: rows[size[1] - first :],
        LEFT: columns[:, :first][:, ::-1].T,
        RIGHT: columns[:, size[0] - first :].T,
    }
    edges = {name: _edge(beyond[name], round(_OUT_MM[name] * _PX_PER_MM)) for name in _OUT_MM}
    seen = _of_one_paper({name: edge for name, edge in edges.items() if edge is not None})
    places = [_in_plane(name, edge.at, flat) for name, edge in seen.items()]
    at = np.concatenate([np.zeros((0, 2)), *places])
    return Slip(sides=frozenset(seen), beyond=mapped(plane.to_photo, at))


def _of_one_paper(edges: dict[str, _Edge]) -> dict[str, _Edge]:
    """The edges beyond which one and the same paper lies; none unless the left and the right one
    are among them."""
    left, right = edges.get(LEFT), edges.get(RIGHT)
    if left is None or right is None or abs(left.factor - right.factor) > _ALIKE:
        return {}
    factor, level = (left.factor + right.factor) / 2, (left.level + right.level) / 2
    # Between bars no space is as light as bare paper: there what lies beyond tells.
    return {
        name: edge
        for name, edge in edges.items()
        if name in (LEFT, RIGHT)
        or min(abs(edge.factor - factor), abs(edge.level / level - 1)) < _ALIKE
    }


def _in_plane(side: str, at: Floats, bars: Floats) -> Floats:
    """Places beyond a side in the plane that the bars are laid flat in, (n, 2) px."""
    (left, top), (right, foot) = bars[0], bars[2]
    along, out = at[:, 0], at[:, 1]
    x, y = left + along * (right - left), top + along * (foot - top)
    places = {TOP: (x, top - out), FOOT: (x, foot + out), LEFT: (left - out, y),
              RIGHT: (right + out, y)}  # fmt: skip
    return np.stack(places[side], axis=1)


def _edge(outward: Floats, farthest: int) -> _Edge | None:
    """The slip's edge; None where no straight one is seen. outward: gray values (distance from the
    bars, along it)."""
    near, far = round(_NEAR_MM * _PX_PER_MM), round(_FAR_MM * _PX_PER_MM)
    if outward.shape[1] < _PARTS:
        # Bars lower than a millimeter or two have no side to speak of.
        return None
    places: list[float] = []
    factors: list[float] = []
    levels: list[float] = []
    at: list[float] = []
    for number, part in enumerate(np.array_split(outward, _PARTS, axis=1)):
        # Of the rows that cross the bars the widest spaces show the paper.
        profile = np.percentile(part, 80, axis=1)
        sums = np.concatenate([[0.0], np.cumsum(profile)])
        d = np.arange(far, min(farthest, len(profile) - far))
        inside = (sums[d - near] - sums[d - far]) / (far - near)
        outside = (sums[d + far] - sums[d + near]) / (far - near)
        factor = inside / np.maximum(outside, 1.0)
        steep = np.flatnonzero(factor > _LEAST_STEP)
        if not len(steep):
            continue
        run = steep[: int(np.argmax(np.diff(steep, append=steep[-1] + 99) > 1)) + 1]
        best = int(run[np.argmax(factor[run])])
        places.append(float(d[best]))
        factors.append(float(factor[best]))
        levels.append(float(outside[best]))
        at.append(float(number))
    if len(places) < _ON_EDGE * _PARTS:
        return None
    x, y = np.array(at), np.array(places)
    on_edge = _on_line(x, y)
    if on_edge.sum() < _ON_EDGE * _PARTS:
        return None
    step = float(np.median(np.array(factors)[on_edge]))
    level = float(np.median(np.array(levels)[on_edge]))
    if step >= _MOST_STEP:
        return None
    out = y[on_edge] + _BEYOND_MM * _PX_PER_MM
    return _Edge(factor=step, level=level, at=np.stack([(x[on_edge] + 0.5) / _PARTS, out], axis=1))


def _on_line(x: Floats, y: Floats) -> NDArray[np.bool_]:
    """Which places lie on the line through most of them (Theil and Sen)."""
    i, j = np.triu_indices(len(x), 1)
    slope = float(np.median((y[j] - y[i]) / (x[j] - x[i])))
    off = np.abs(y - slope * x - np.median(y - slope * x))
    return np.asarray(off < _MOST_OFF_MM * _PX_PER_MM, np.bool_)

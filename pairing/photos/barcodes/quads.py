"""Where a symbol is in a photo: quads, angles, overlap. Coordinates in px."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad

Point = tuple[float, float]
Floats = NDArray[np.float64]


def quad_of(points: Sequence[Point]) -> Quad:
    """Four points, in the order of `Quad.corners`."""
    a, b, c, d = ((float(x), float(y)) for x, y in points)
    return Quad(top_left=a, top_right=b, bottom_right=c, bottom_left=d)


def corners_of(quad: Quad) -> Floats:
    """(4, 2) float64."""
    return np.array(quad.corners, dtype=np.float64)


def reading_angle_deg(quad: Quad) -> float:
    """Direction from the symbol's start to its end, clockwise from the x axis, -180..180."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = quad.corners
    return math.degrees(math.atan2((by - ay) + (cy - dy), (bx - ax) + (cx - dx)))


def length_px(quad: Quad) -> float:
    """Mean length of the two edges along the reading direction."""
    a, b, c, d = quad.corners
    return (math.dist(a, b) + math.dist(d, c)) / 2


def height_px(quad: Quad) -> float:
    """Mean length of the two edges along the bars."""
    a, b, c, d = quad.corners
    return (math.dist(a, d) + math.dist(b, c)) / 2


def grown(quad: Quad, *, along_px: float, across_px: float) -> Quad:
    """The quad with each end moved out by `along_px`, each side by `across_px`."""
    p = corners_of(quad)
    along = (p[1] - p[0]) + (p[2] - p[3])
    across = (p[3] - p[0]) + (p[2] - p[1])
    u = along / max(float(np.hypot(*along)), 1e-9)
    v = across / max(float(np.hypot(*across)), 1e-9)
    if not across.any():
        v = np.array([-u[1], u[0]])
    signs = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)], dtype=np.float64)
    moved = p + signs[:, :1] * u * along_px + signs[:, 1:] * v * across_px
    return quad_of([(float(x), float(y)) for x, y in moved])


def contains(quad: Quad, point: Point) -> bool:
    """Whether a convex quad holds the point, its border included."""
    signs = []
    corners = quad.corners
    for (ax, ay), (bx, by) in zip(corners, corners[1:] + corners[:1], strict=True):
        signs.append((bx - ax) * (point[1] - ay) - (by - ay) * (point[0] - ax))
    return all(s >= -1e-9 for s in signs) or all(s <= 1e-9 for s in signs)


def area_px2(points: Floats) -> float:
    """Area of a polygon given as (n, 2)."""
    if len(points) < 3:
        return 0.0
    corners = points.tolist()
    twice = sum(
        ax * by - ay * bx
        for (ax, ay), (bx, by) in zip(corners, corners[1:] + corners[:1], strict=True)
    )
    return abs(float(twice)) / 2


def overlap_share(first: Quad, second: Quad) -> float:
    """Common area as a share of the smaller quad's area, 0..1; both convex."""
    one, other = first.corners, second.corners
    for axis in (0, 1):  # most pairs are told apart by their bounds alone
        a, b = [p[axis] for p in one], [p[axis] for p in other]
        if max(a) < min(b) or max(b) < min(a):
            return 0.0
    return common_share(corners_of(first), corners_of(second))


def common_share(first: Floats, second: Floats) -> float:
    """As `overlap_share`, of corners (4, 2) whose bounds meet."""
    import cv2  # noqa: PLC0415

    smaller = min(area_px2(first), area_px2(second))
    if smaller <= 0:
        return 0.0
    common, _ = cv2.intersectConvexConvex(first.astype(np.float32), second.astype(np.float32))
    return min(1.0, float(common) / smaller)


def squared(quad: Quad) -> Quad:
    """The quad with its ends moved so that the reading direction is square to the bars.

    A block found in a much reduced picture may lie a few degrees askew over bars whose own
    direction is known well; what it covers at one end too high, it covers too low at the other.
    """
    a, b, c, d = corners_of(quad)
    first, last = (a + d) / 2, (b + c) / 2
    bars = (d - a) + (c - b)
    size = float(np.hypot(*bars))
    if size <= 0:
        return quad
    bars = bars / size
    middle = (first + last) / 2
    half = (last - first) / 2
    half = half - bars * float(half @ bars)
    points = (
        middle - half - (d - a) / 2,
        middle + half - (c - b) / 2,
        middle + half + (c - b) / 2,
        middle - half + (d - a) / 2,
    )
    return quad_of([(float(x), float(y)) for x, y in points])

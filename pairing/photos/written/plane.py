"""A stretch of paper laid flat: turned upright, scaled, and freed of perspective where it is
known."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad

BARS_PX = 640
"""Length of the card's barcode in the plane."""
PX_PER_MM = BARS_PX / 52
"""Common practice, no source: 22 digits at a narrow bar of 0.33 mm are 52 mm long."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """A rectified stretch: `gray` (h, w) uint8 and `to_photo`, the (3, 3) homography from its
    px to the photo's. `scale`: photo px for one of its px, about its middle."""

    gray: NDArray[np.uint8]
    to_photo: NDArray[np.float64]
    scale: float

    def place(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Where points (n, 2) of the photo lie in the plane, px."""
        return mapped(inverse(self.to_photo), points)

    def quad(self, left: float, top: float, wide: float, high: float) -> Quad:
        """Where a rectangle of the plane lies in the photo."""
        return quad_of(mapped(self.to_photo, rectangle(left, top, wide, high)))


def rectangle(left: float, top: float, wide: float, high: float) -> NDArray[np.float64]:
    """Corners (4, 2) from the top left clockwise."""
    right, foot = left + wide, top + high
    return np.array([(left, top), (right, top), (right, foot), (left, foot)], np.float64)


def mapped(matrix: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points (n, 2) taken through a (3, 3) homography."""
    ahead = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return np.asarray(ahead[:, :2] / ahead[:, 2:], np.float64)


def inverse(matrix: NDArray[np.float64]) -> NDArray[np.float64]:
    """The homography that leads back."""
    return np.asarray(np.linalg.inv(matrix), np.float64)


def quad_of(corners: NDArray[np.float64]) -> Quad:
    """Corners (4, 2) from the top left clockwise, as a quad."""
    a, b, c, d = ((float(x), float(y)) for x, y in corners)
    return Quad(top_left=a, top_right=b, bottom_right=c, bottom_left=d)


def corners_of(quad: Quad) -> NDArray[np.float64]:
    """A quad's corners, (4, 2)."""
    return np.array(quad.corners, np.float64)


def homography(here: NDArray[np.float64], there: NDArray[np.float64]) -> NDArray[np.float64]:
    """The (3, 3) map that takes four points to four others."""
    found = cv2.getPerspectiveTransform(here.astype(np.float32), there.astype(np.float32))
    return np.asarray(found, np.float64)


def stretch(bars: Quad, *, along: tuple[float, float], below: tuple[float, float]) -> Quad:
    """The part of the photo that `beneath` takes."""
    (ax, ay), (bx, by) = _ends(bars)
    dx, dy = bx - ax, by - ay
    cx, cy = bars.center
    corners = [
        (cx + dx * a - dy * b, cy + dy * a + dx * b)
        for a, b in (
            (along[0], below[0]),
            (along[1], below[0]),
            (along[1], below[1]),
            (along[0], below[1]),
        )
    ]
    return Quad(
        top_left=corners[0], top_right=corners[1], bottom_right=corners[2], bottom_left=corners[3]
    )


def turned(bars: Quad, slope: float) -> Quad:
    """`bars` turned about their middle so that what fell by `slope` in their plane is level."""
    cx, cy = bars.center
    angle = math.atan(slope)
    cos, sin = math.cos(angle), math.sin(angle)
    a, b, c, d = (
        (cx + cos * (x - cx) - sin * (y - cy), cy + sin * (x - cx) + cos * (y - cy))
        for x, y in bars.corners
    )
    return Quad(top_left=a, top_right=b, bottom_right=c, bottom_left=d)


def beneath(
    gray: NDArray[np.uint8], bars: Quad, *, along: tuple[float, float], below: tuple[float, float]
) -> Plane:
    """The stretch `along` and `below` the barcode's middle, in lengths of the barcode; its
    reading direction becomes the x axis, so a photo upside down comes out upright."""
    (ax, ay), (bx, by) = _ends(bars)
    length = max(math.hypot(bx - ax, by - ay), 1.0)
    ux, uy = (bx - ax) / length, (by - ay) / length
    scale = length / BARS_PX
    cx, cy = bars.center
    left, top = along[0] * length, below[0] * length
    origin = (cx + ux * left - uy * top, cy + uy * left + ux * top)
    to_photo = np.array(
        [
            [ux * scale, -uy * scale, origin[0]],
            [uy * scale, ux * scale, origin[1]],
            [0.0, 0.0, 1.0],
        ]
    )
    size = (round((along[1] - along[0]) * BARS_PX), round((below[1] - below[0]) * BARS_PX))
    return laid_flat(gray, to_photo, size)


def laid_flat(
    gray: NDArray[np.uint8], to_photo: NDArray[np.float64], size: tuple[int, int]
) -> Plane:
    """The plane of `size` (width, height) px that `to_photo` takes to the photo."""
    middle = np.array([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)]) + np.array(size) / 2
    at, right, down = mapped(to_photo, middle)
    scale = math.sqrt(max(1e-12, abs(float(np.linalg.det(np.stack([right - at, down - at]))))))
    return Plane(gray=cut(gray, to_photo, size, scale), to_photo=to_photo, scale=scale)


def cut(
    photo: NDArray[np.uint8], to_photo: NDArray[np.float64], size: tuple[int, int], scale: float
) -> NDArray[np.uint8]:
    """(height, width) `size` reversed as cv2 has it; averages where the photo is finer."""
    finer = max(1, min(4, round(scale + 0.3)))
    big = cv2.warpPerspective(
        photo,
        to_photo @ np.diag([1 / finer, 1 / finer, 1.0]),
        (size[0] * finer, size[1] * finer),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    if finer == 1:
        return np.asarray(big, np.uint8)
    return np.asarray(cv2.resize(big, size, interpolation=cv2.INTER_AREA), np.uint8)


def _ends(bars: Quad) -> tuple[tuple[float, float], tuple[float, float]]:
    """The middles of the barcode's first and last edge, px."""
    a, b, c, d = bars.corners
    return ((a[0] + d[0]) / 2, (a[1] + d[1]) / 2), ((b[0] + c[0]) / 2, (b[1] + c[1]) / 2)

"""What the papers lie on: boards, a laminate, a blotter. Made of noise."""

from __future__ import annotations

import cv2
import numpy as np

from pairing.demo.sheet import Color, Pixels

_TOPS: tuple[tuple[str, Color], ...] = (
    ("boards", (158, 116, 78)),
    ("laminate", (126, 130, 134)),
    ("boards", (98, 70, 52)),
    ("blotter", (62, 82, 92)),
    ("boards", (186, 152, 112)),
    ("laminate", (92, 84, 82)),
)
TABLES = len(_TOPS)


def table_top(
    number: int, size: tuple[int, int], px_per_mm: float, rng: np.random.Generator
) -> Pixels:
    """Table `number` (0 to TABLES - 1), (height, width, 3) float32 RGB 0 to 255;
    `size` is (width, height) in px."""
    kind, color = _TOPS[number % TABLES]
    wide, high = size
    shade = np.ones((high, wide), np.float32)
    if kind == "boards":
        shade += _grain(size, px_per_mm, rng)
    else:
        fleck = 0.9 if kind == "blotter" else 2.2
        shade += _noise(size, fleck * px_per_mm, fleck * px_per_mm, 0.035, rng)
        shade += _noise(size, 40 * px_per_mm, 30 * px_per_mm, 0.03, rng)
    return np.asarray(shade[:, :, None] * np.array(color, np.float32), np.float32)


def _grain(size: tuple[int, int], px_per_mm: float, rng: np.random.Generator) -> Pixels:
    """Wood: streaks along x at three widths, and dark joints between boards."""
    shade = _noise(size, 90 * px_per_mm, 0.7 * px_per_mm, 0.05, rng)
    shade += _noise(size, 140 * px_per_mm, 3 * px_per_mm, 0.07, rng)
    shade += _noise(size, 60 * px_per_mm, 14 * px_per_mm, 0.05, rng)
    joint = rng.uniform(10, 60) * px_per_mm
    while joint < size[1]:
        row = int(joint)
        shade[row : row + max(2, round(0.6 * px_per_mm))] -= 0.45
        joint += rng.uniform(60, 90) * px_per_mm
    return shade


def _noise(
    size: tuple[int, int],
    step_x_px: float,
    step_y_px: float,
    amount: float,
    rng: np.random.Generator,
) -> Pixels:
    """Smooth noise with the given correlation lengths."""
    wide, high = size
    grid = rng.normal(0, amount, (int(high / step_y_px) + 3, int(wide / step_x_px) + 3))
    big = cv2.resize(grid.astype(np.float32), (wide, high), interpolation=cv2.INTER_CUBIC)
    return np.asarray(big, np.float32)

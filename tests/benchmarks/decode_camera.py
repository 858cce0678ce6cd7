"""A camera for drawn sheets: turned, seen in perspective, unevenly lit, blurred, noisy."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Gray = NDArray[np.uint8]
Floats = NDArray[np.float64]

PX_PER_MM = 16
"""Of the sheets."""
_WIDE_PX, _HIGH_PX = 2600, 1950


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """How badly a scene is photographed; each is drawn from up to these."""

    turn_deg: float
    perspective: float
    blur_px: float
    noise: float
    shade: float
    glare: float
    jpeg: tuple[int, int]
    px_per_mm: tuple[float, float]


LEVELS = {
    "phone": Level(turn_deg=25, perspective=0.05, blur_px=1.2, noise=3, shade=0.3, glare=0.2,
                   jpeg=(75, 90), px_per_mm=(11.0, 15.0)),
    "hard": Level(turn_deg=180, perspective=0.10, blur_px=2.2, noise=6, shade=0.55, glare=0.6,
                  jpeg=(55, 80), px_per_mm=(9.0, 13.0)),
    "one": Level(turn_deg=25, perspective=0.05, blur_px=1.2, noise=3, shade=0.3, glare=0.2,
                 jpeg=(75, 90), px_per_mm=(7.5, 10.0)),
}  # fmt: skip


def photographed(sheets: list[Gray], level: Level, rng: np.random.Generator) -> Gray:
    """Sheets on a table, each turned, seen in one perspective, lit, blurred, noisy, JPEG."""
    grain = rng.normal(0, 1, (rng.integers(20, 60), rng.integers(8, 40))).astype(np.float32)
    table = rng.uniform(70, 170) + rng.uniform(6, 18) * cv2.resize(
        grain, (_WIDE_PX, _HIGH_PX), interpolation=cv2.INTER_CUBIC
    )
    light: Floats = table.astype(np.float64)
    scale = rng.uniform(*level.px_per_mm) / PX_PER_MM
    if level.turn_deg > 90:
        base = rng.uniform(0, 360)
    else:
        base = rng.uniform(-level.turn_deg, level.turn_deg)
    for place, sheet in enumerate(sheets):
        high, wide = sheet.shape
        share = (place + 0.5) / len(sheets)
        middle = np.array([_WIDE_PX * share, _HIGH_PX / 2]) + rng.uniform(-40, 40, 2)
        turn = np.radians(
            base if len(sheets) == 1 else rng.uniform(-level.turn_deg, level.turn_deg)
        )
        fit = min(scale, 0.94 * _WIDE_PX / len(sheets) / float(np.hypot(wide, high)) * 1.15)
        corners = np.array([(-wide, -high), (wide, -high), (wide, high), (-wide, high)]) / 2 * fit
        spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
        there = corners @ spin.T + middle
        there += rng.uniform(-1, 1, (4, 2)) * level.perspective * 0.5 * wide * fit
        here = np.array([(0, 0), (wide, 0), (wide, high), (0, high)], np.float32)
        matrix = cv2.getPerspectiveTransform(here, there.astype(np.float32))
        soft = cv2.GaussianBlur(sheet, (0, 0), 0.45 / fit)
        view = cv2.warpPerspective(soft, matrix, (_WIDE_PX, _HIGH_PX), flags=cv2.INTER_LINEAR)
        mask = cv2.warpPerspective(np.full_like(sheet, 255), matrix, (_WIDE_PX, _HIGH_PX)) / 255.0
        light = light * (1 - mask) + view * mask
    return taken(light, level, rng)


def taken(light: Floats, level: Level, rng: np.random.Generator) -> Gray:
    """Lit from one side, with a glare, blurred, noisy, and packed as a JPEG."""
    ramp = (
        np.linspace(0, 1, _WIDE_PX)[None]
        if rng.random() < 0.5
        else np.linspace(0, 1, _HIGH_PX)[:, None]
    )
    light = light * (1 - level.shade * rng.random() * ramp)
    ys, xs = np.mgrid[0:_HIGH_PX, 0:_WIDE_PX]
    cx, cy, size = (
        rng.uniform(0.2, 0.8) * _WIDE_PX,
        rng.uniform(0.2, 0.8) * _HIGH_PX,
        rng.uniform(150, 400),
    )
    light += (
        255
        * level.glare
        * rng.random()
        * np.exp(-((xs - cx) ** 2 + (ys - cy) ** 2) / (2 * size**2))
    )
    light = np.asarray(cv2.GaussianBlur(light, (0, 0), rng.uniform(0.5, level.blur_px)), np.float64)
    light += rng.normal(0, level.noise * rng.random(), light.shape)
    _, packed = cv2.imencode(
        ".jpg", np.clip(light, 0, 255).astype(np.uint8),
        (cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(*level.jpeg))),
    )  # fmt: skip
    return np.asarray(cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE), np.uint8)

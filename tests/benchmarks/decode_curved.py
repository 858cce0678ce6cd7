"""Labels on tubes and bent envelopes: `decode_scenes`' labels, seen by a pinhole camera.

Run by `python -m tests.benchmarks.decode curved [N] [--seed S]`. Lengths in mm.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Side
from tests.benchmarks.decode_camera import LEVELS, PX_PER_MM, taken
from tests.benchmarks.decode_cards import Truth, score, shown
from tests.benchmarks.decode_scenes import Design, label_sheet

Gray = NDArray[np.uint8]
Floats = NDArray[np.float64]


RADII_MM = (30.0, 50.0, 80.0, 120.0, 200.0)
BENDS = ("wrapped", "along", "wave")
"""How the paper bends: the reading direction runs around a tube; it runs along the tube; or an
envelope waves along the reading direction, with the radius at its crests."""

_WIDE_PX, _HIGH_PX = 2600, 1950
_CAMERA_MM = 350.0  # from the paper
_STEPS = 40  # in which a ray is followed down to the paper


def bent(sheet: Gray, bend: str, radius_mm: float, rng: np.random.Generator) -> Gray:
    """A photo of a sheet on a bent surface, at level phone of `decode_camera`."""
    level = LEVELS["phone"]
    px_per_mm = float(rng.uniform(*level.px_per_mm))
    pitch, yaw = np.radians(rng.uniform(-20, 20, 2))
    roll = np.radians(rng.uniform(-level.turn_deg, level.turn_deg))
    u, v, seen = _paper_places(bend, radius_mm, px_per_mm, (pitch, yaw, roll))
    high, wide = sheet.shape
    finer = max(1.0, PX_PER_MM / px_per_mm)
    soft = cv2.GaussianBlur(sheet, (0, 0), 0.45 * finer)
    xs, ys = u * PX_PER_MM + wide / 2 - 0.5, v * PX_PER_MM + high / 2 - 0.5
    view = cv2.remap(soft, xs.astype(np.float32), ys.astype(np.float32), cv2.INTER_LINEAR)
    on_sheet = seen & (xs > 0) & (ys > 0) & (xs < wide - 1) & (ys < high - 1)
    mask = cv2.GaussianBlur(on_sheet.astype(np.float32), (0, 0), 0.8)
    grain = rng.normal(0, 1, (40, 30)).astype(np.float32)
    around = cv2.resize(grain, (_WIDE_PX, _HIGH_PX), interpolation=cv2.INTER_CUBIC)
    table = rng.uniform(70, 170) + rng.uniform(6, 18) * around.astype(np.float64)
    light = table * (1 - mask) + view * mask
    return taken(light, level, rng)


def _paper_places(
    bend: str, radius_mm: float, px_per_mm: float, turns: tuple[float, float, float]
) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Where on the sheet each pixel looks: mm from its middle along and down, and whether it sees
    the sheet's side at all."""
    ys, xs = np.mgrid[0:_HIGH_PX, 0:_WIDE_PX].astype(np.float64)
    x, y = (xs - _WIDE_PX / 2) / px_per_mm, (ys - _HIGH_PX / 2) / px_per_mm
    pitch, yaw, roll = turns
    cos, sin = np.cos(roll), np.sin(roll)
    x, y = x * cos + y * sin, y * cos - x * sin
    # The camera above the paper's middle, z towards it; the paper turned by pitch and yaw.
    about_x = np.array([
        [1, 0, 0], [0, np.cos(pitch), -np.sin(pitch)], [0, np.sin(pitch), np.cos(pitch)]
    ])  # fmt: skip
    about_y = np.array([
        [np.cos(yaw), 0, np.sin(yaw)], [0, 1, 0], [-np.sin(yaw), 0, np.cos(yaw)]
    ])  # fmt: skip
    turn = about_x @ about_y
    start = turn.T @ np.array([0.0, 0.0, _CAMERA_MM])
    rays = np.stack([x, y, np.full_like(x, -_CAMERA_MM)], axis=-1) @ turn
    if bend == "wave":
        return _wave(start, rays, radius_mm)
    if bend == "along":  # the same tube, turned by a quarter
        v, u, seen = _tube(start[[1, 0, 2]], rays[..., [1, 0, 2]], radius_mm)
        return u, v, seen
    return _tube(start, rays, radius_mm)


def _tube(
    start: Floats, rays: Floats, radius_mm: float
) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """A tube along y whose top is at z = 0: the first place where each ray meets it."""
    dx, dz = rays[..., 0], rays[..., 2]
    ox, oz = start[0], start[2] + radius_mm
    a, b, c = dx**2 + dz**2, ox * dx + oz * dz, ox**2 + oz**2 - radius_mm**2
    root = b**2 - a * c
    at = (-b - np.sqrt(np.maximum(root, 0))) / a
    px, py, pz = ox + at * dx, start[1] + at * rays[..., 1], oz + at * dz
    return radius_mm * np.arctan2(px, pz), py, root > 0


def _wave(
    start: Floats, rays: Floats, radius_mm: float
) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Paper whose height is a wave along x, 120 mm long; its crests have the radius."""
    turn = 2 * np.pi / 120.0
    high = 1 / (radius_mm * turn**2)
    at = -start[2] / rays[..., 2]
    for _ in range(_STEPS):
        px = start[0] + at * rays[..., 0]
        z = high * (np.cos(turn * px) - 1)
        at = 0.5 * at + 0.5 * (z - start[2]) / rays[..., 2]
    px, py = start[0] + at * rays[..., 0], start[1] + at * rays[..., 1]
    # Along the paper the way is longer than along the table.
    grid = np.linspace(-150, 150, 3001)
    slope = -high * turn * np.sin(turn * grid)
    way = np.cumsum(np.sqrt(1 + slope**2)) * (grid[1] - grid[0])
    way -= way[len(way) // 2]
    return np.interp(px, grid, way), py, np.ones(px.shape, bool)


def curved(designs: tuple[Design, ...], count: int, seed: int) -> None:
    """What is read of `count` labels at each bend and radius, and how many right ones are refused
    for their print."""
    with tempfile.TemporaryDirectory(prefix="counterfoil-curved-") as folder:
        for bend in BENDS:
            for radius_mm in RADII_MM:
                photos = []
                for number in range(count):
                    rng = np.random.default_rng([seed, number, round(radius_mm), len(bend)])
                    gray, article = label(designs[number % len(designs)], bend, radius_mm, rng)
                    path = Path(folder) / f"{bend}-{radius_mm:.0f}-{number}.png"
                    cv2.imwrite(str(path), gray)
                    photos.append((path, Side.LABEL, Truth(article=article)))
                shown(f"{bend}, {radius_mm:.0f} mm:  ", score(photos))


def label(
    design: Design, bend: str, radius_mm: float, rng: np.random.Generator
) -> tuple[Gray, str]:
    """A photo of a bent label, and its number."""
    article, sheet = label_sheet(design, rng)
    return bent(sheet, bend, radius_mm, rng), article

"""Photos of drawn cards at three levels, and where the card lies in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.demo.camera import Placed, Shot, _place, _view, photograph
from pairing.demo.sheet import PX_PER_MM, Sheet
from pairing.demo.tabletop import TABLES
from tests.benchmarks.blank_cards import blank
from tests.benchmarks.designs import Design, Rect
from tests.benchmarks.drawn_cards import card_number


def shot_of(level: str, rng: np.random.Generator) -> tuple[Shot, float]:
    """How a photo of that level is taken, and the sheet's own turn in degrees."""
    spread = {"clean": (2.0, 0.0, 0.55, 1.5), "phone": (14.0, 0.02, 0.85, 2.5),
              "hard": (25.0, 0.045, 1.3, 4.0)}[level]  # fmt: skip
    turn = float(rng.uniform(-spread[0], spread[0]))
    if level == "hard" and rng.random() < 0.3:
        turn += 180.0
    shot = Shot(
        px_per_mm=float(rng.uniform(9.5, 13.0) if level != "hard" else rng.uniform(8.5, 11.0)),
        turn_deg=turn, tilt=spread[1], blur_px=float(spread[2] * rng.uniform(0.8, 1.2)),
        light=float(rng.uniform(0.8, 1.05)), falloff=0.1 if level == "clean" else 0.35,
        noise=spread[3], has_shadow=level != "clean" and bool(rng.random() < 0.4),
        quality={"clean": 90, "phone": 84, "hard": 72}[level],
    )  # fmt: skip
    return shot, float(rng.uniform(-1, 1))


def photographed(
    sheet: Sheet, level: str, rng: np.random.Generator, *, px_per_mm: float | None = None
) -> tuple[bytes, NDArray[np.float64]]:
    """A JPEG, and the (3, 3) map from the card's mm to the photo's px. px_per_mm: the scale; by
    default drawn with the rest of the level."""
    shot, angle = shot_of(level, rng)
    shot = replace(shot, px_per_mm=px_per_mm or shot.px_per_mm)
    wide, high = sheet.width_mm, sheet.height_mm
    around = np.deg2rad(shot.turn_deg % 180.0)
    cos, sin = abs(np.cos(around)), abs(np.sin(around))
    size_mm = (wide * cos + high * sin + 14.0, wide * sin + high * cos + 14.0)
    placed = Placed(sheet=sheet, x_mm=size_mm[0] / 2, y_mm=size_mm[1] / 2, angle_deg=angle)
    seed = int(rng.integers(1 << 30))
    size = (round(size_mm[0] * shot.px_per_mm), round(size_mm[1] * shot.px_per_mm))
    photo = photograph((placed,), size_mm=size_mm, shot=shot, table=seed % TABLES,
                       rng=np.random.default_rng(seed))  # fmt: skip
    view = _view(size_mm, size, shot, np.random.default_rng(seed))
    return photo, view @ _place(placed) @ np.diag([PX_PER_MM, PX_PER_MM, 1.0])


def corners(to_photo: NDArray[np.float64], rect: Rect) -> list[tuple[float, float]]:
    """A rectangle's corners in the photo, from the left top clockwise, px."""
    left, top, wide, high = rect
    at = np.array([(left, top), (left + wide, top), (left + wide, top + high), (left, top + high)])
    there = cv2.perspectiveTransform(at.reshape(-1, 1, 2), to_photo).reshape(-1, 2)
    return [(float(x), float(y)) for x, y in there]


@cache
def taught(design: Design, level: str = "phone", seed: int = 0) -> tuple[bytes, tuple[float, ...]]:
    """A photo of the empty card and, flat, its corners' and its box's px."""
    rng = np.random.default_rng([seed, *design.name.encode(), 77])
    sheet = blank(design, card_number(rng) if design.bars else "")
    photo, to_photo = photographed(sheet, level, rng)
    places: Sequence[Rect] = ((0.0, 0.0, *design.size), design.box)
    return photo, tuple(v for place in places for xy in corners(to_photo, place) for v in xy)

"""Postmarks on drawn cards."""

from __future__ import annotations

import cv2
import numpy as np

from pairing.demo.sheet import PX_PER_MM, Sheet


def stamp(
    sheet: Sheet, rng: np.random.Generator, x: float, y: float, *, strength: float = 0.6
) -> None:
    """A round postmark with its middle at the point."""
    side = round(27 * PX_PER_MM)
    ink = np.zeros((side, side), np.uint8)
    middle = (side // 2, side // 2)
    for radius in (12.5, 8.0):
        cv2.circle(ink, middle, round(radius * PX_PER_MM), (255,), round(0.45 * PX_PER_MM),
                   cv2.LINE_AA)  # fmt: skip
    day = f"{rng.integers(1, 28):02d}.{rng.integers(1, 12):02d}.26"
    cv2.putText(ink, day, (round(7.4 * PX_PER_MM), round(14.5 * PX_PER_MM)),
                cv2.FONT_HERSHEY_SIMPLEX, 2.0, (255,), 6, cv2.LINE_AA)  # fmt: skip
    worn = rng.uniform(0.35, 1.0, (12, 12)).astype(np.float32)
    spread = cv2.resize(worn, (side, side), interpolation=cv2.INTER_CUBIC)
    layer = np.clip(ink.astype(np.float32) / 255 * spread, 0, 1) * np.float32(strength)
    sheet.stain(x - 13.5, y - 13.5, np.asarray(layer, np.float32), (50, 46, 60))

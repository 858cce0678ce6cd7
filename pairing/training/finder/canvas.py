"""A card's gray picture and, beside it, what kind each pixel is."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.training.finder.materials import Alpha, Rng

PX_PER_MM = 9.0
PAPER, PRINT, NUMBER, WRITING, STROKE, STRIP = range(6)
KINDS = ("paper", "print", "number", "writing", "stroke", "strip")
"""What a pixel is: bare paper or table; print, rules, bars, stamps; the number in the box;
other writing by hand; what strikes out or is put in; a strip's bare paper."""
_INKED = 0.4


class Canvas:
    """gray, kinds: (h, w) uint8. Places in mm from the canvas' left top corner."""

    def __init__(self, wide_mm: float, high_mm: float, light: float):
        size = round(high_mm * PX_PER_MM), round(wide_mm * PX_PER_MM)
        self.gray = np.full(size, light, np.uint8)
        self.kinds = np.zeros(size, np.uint8)

    def put(self, ink: Alpha, x: float, y: float, light: float, kind: int | None) -> None:
        """Ink whose left top corner lies at x, y, px; darkens, never lightens. kind: None for ink
        too faint to be told from paper."""
        high, wide = ink.shape
        x0, y0 = round(x), round(y)
        left, top = max(0, x0), max(0, y0)
        right, foot = min(self.gray.shape[1], x0 + wide), min(self.gray.shape[0], y0 + high)
        if right <= left or foot <= top:
            return
        part = ink[top - y0 : foot - y0, left - x0 : right - x0]
        under = self.gray[top:foot, left:right]
        mixed = under * (1 - part) + np.minimum(under, light) * part
        self.gray[top:foot, left:right] = mixed.astype(np.uint8)
        if kind is not None:
            self.kinds[top:foot, left:right][part > _INKED] = kind

    def paste(
        self, gray: NDArray[np.uint8], kinds: NDArray[np.uint8], place: NDArray[np.float64]
    ) -> None:
        """A sheet stuck on: place, its (2, 3) map to the canvas, px."""
        size = self.gray.shape[::-1]
        corners = np.array(
            [(0, 0), (gray.shape[1], 0), (gray.shape[1], gray.shape[0]), (0, gray.shape[0])]
        )
        there = corners @ place[:, :2].T + place[:, 2]
        low = np.clip(np.floor(there.min(0)).astype(int) - 4, 0, size)
        high = np.clip(np.ceil(there.max(0)).astype(int) + 4, 0, size)
        wide, tall = (high - low).tolist()
        if wide < 2 or tall < 2:
            return
        local = place - np.array([[0, 0, low[0]], [0, 0, low[1]]])
        mask = cv2.warpAffine(np.full(gray.shape, 255, np.uint8), local, (wide, tall))
        moved = cv2.warpAffine(gray, local, (wide, tall), borderMode=cv2.BORDER_REPLICATE)
        sorts = cv2.warpAffine(kinds, local, (wide, tall), flags=cv2.INTER_NEAREST)
        under = self.gray[low[1] : high[1], low[0] : high[0]]
        shade = cv2.GaussianBlur(mask, (0, 0), 2.5).astype(np.float32) / 255
        share = mask.astype(np.float32) / 255
        shaded = under * (1 - 0.25 * shade * (1 - share))
        under[:] = (shaded * (1 - share) + moved * share).astype(np.uint8)
        self.kinds[low[1] : high[1], low[0] : high[0]][mask > 127] = sorts[mask > 127]

    def line(self, points_mm: NDArray[np.float64], pen_mm: float, light: float, kind: int,
             strength: float = 1.0) -> None:  # fmt: skip
        """A line through points (n, 2)."""
        points = points_mm * PX_PER_MM
        low = np.floor(points.min(0)) - pen_mm * PX_PER_MM - 2
        size = np.ceil(points.max(0) - low + pen_mm * PX_PER_MM + 2).astype(int)
        layer = np.zeros((int(min(size[1], 4000)), int(min(size[0], 4000))), np.uint8)
        # A line thinner than a px is a px, and fainter.
        thick = max(1, round(pen_mm * PX_PER_MM))
        at = np.round((points - low) * 16).astype(np.int32).reshape(-1, 1, 2)
        cv2.polylines(layer, [at], False, (255,), thick, cv2.LINE_AA, 4)
        faint = min(1.0, pen_mm * PX_PER_MM / thick) * strength
        ink = layer.astype(np.float32) * np.float32(faint / 255)
        self.put(ink, float(low[0]), float(low[1]), light, kind if faint > _INKED else None)

    def rule(self, ax: float, ay: float, bx: float, by: float, pen_mm: float, light: float,
             style: str = "whole") -> None:  # fmt: skip
        """A printed straight rule: whole, dashed, dotted."""
        ends = np.array([(ax, ay), (bx, by)], np.float64)
        if style == "whole":
            self.line(ends, pen_mm, light, PRINT)
            return
        step, on = (2.0, 0.6) if style == "dashed" else (1.1, 0.25)
        many = max(1, int(np.linalg.norm(ends[1] - ends[0]) / step))
        along = (ends[1] - ends[0]) / many
        for at in range(many):
            start = ends[0] + along * at
            self.line(np.stack([start, start + along * on]), pen_mm, light, PRINT)

    def frame(self, rect: tuple[float, float, float, float], pen_mm: float, light: float,
              style: str = "whole") -> None:  # fmt: skip
        """Four rules."""
        left, top, wide, high = rect
        right, foot = left + wide, top + high
        for a, b, c, d in ((left, top, right, top), (right, top, right, foot),
                           (right, foot, left, foot), (left, foot, left, top)):  # fmt: skip
            self.rule(a, b, c, d, pen_mm, light, style)


def bars_of(
    rng: Rng, wide_mm: float, high_mm: float, dark: float, light: float
) -> NDArray[np.uint8]:
    """A bar pattern with Code 128's widths, (h, w) uint8."""
    modules = max(20, round(wide_mm / rng.uniform(0.25, 0.4)))
    widths = rng.choice([1, 2, 3, 4], modules, p=[0.5, 0.28, 0.13, 0.09])
    line = np.repeat(np.arange(modules) % 2, widths)[:modules].astype(np.float32)
    size = max(2, round(wide_mm * PX_PER_MM)), max(2, round(high_mm * PX_PER_MM))
    wide = cv2.resize(
        line[None],
        (size[0], 1),
        interpolation=cv2.INTER_LINEAR if modules > size[0] else cv2.INTER_NEAREST,
    )
    return np.repeat((dark + (light - dark) * wide), size[1], 0).astype(np.uint8)

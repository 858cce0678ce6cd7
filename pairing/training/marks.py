"""Marks on the paper that are no characters: a strip's bars, strokes through a line."""

from __future__ import annotations

import torch

HIGH, WIDE = 64, 1280
"""The paper that a line is written on, px; digits are about 44 high."""


class Marks:
    """Draws with one random generator on one device."""

    def __init__(self, device: torch.device, rng: torch.Generator):
        self.device, self.rng = device, rng

    def _u(self, *shape: int, low: float = 0.0, high: float = 1.0) -> torch.Tensor:
        return low + (high - low) * torch.rand(shape, device=self.device, generator=self.rng)

    def _n(self, *shape: int) -> torch.Tensor:
        return torch.randn(shape, device=self.device, generator=self.rng)

    def _i(self, high: int, *shape: int) -> torch.Tensor:
        return torch.randint(0, high, shape, device=self.device, generator=self.rng)

    def _bars(self, b: int, high: torch.Tensor) -> torch.Tensor:
        modules = (self._u(b, 1, WIDE // 4) < 0.5).float()
        factor = 0.5 + 0.5 * float(self._u(1))
        bars = torch.nn.functional.interpolate(
            modules[:, :, : int(len(modules[0, 0]) * factor)], WIDE, mode="nearest"
        )
        rows = torch.arange(HIGH, device=self.device)
        edge = (HIGH / 2 - high / 2 - self._u(b, low=3, high=16))[:, None]
        is_on = (self._u(b) < 0.12)[:, None] & (rows < edge)
        return bars * is_on[:, :, None]

    def _strikes(self, ends: torch.Tensor, high: torch.Tensor, y: torch.Tensor) -> torch.Tensor:
        """(b, HIGH, WIDE): one to three strokes from end to end, straight, slanting, crossing or
        waved. ends: (b, 2), high: (b,), y: (b,) the middle of what they run through, px."""
        b = len(ends)
        rows = torch.arange(HIGH, device=self.device)[None, :, None] + 0.5
        cols = torch.arange(WIDE, device=self.device)[None, None, :] + 0.5
        ink = torch.zeros(b, HIGH, WIDE, device=self.device)
        inside = (cols > ends[:, :1, None]) & (cols < ends[:, 1:, None])
        high, y = high[:, None, None], y[:, None, None]
        middle_x = ends.mean(1)[:, None, None]
        long = (ends[:, 1] - ends[:, 0]).clamp(min=20)[:, None, None]
        is_cross = self._u(b, 1, 1) < 0.25
        for index in range(3):
            middle = y + 0.25 * high * self._u(b, 1, 1, low=-1)
            tilt = 0.01 * self._n(b, 1, 1)
            cross = (1 - 2 * (index % 2)) * high / long * self._u(b, 1, 1, low=0.6, high=1.1)
            tilt = torch.where(is_cross, cross, tilt)
            wave = self._u(b, 1, 1, high=0.4) * (self._u(b, 1, 1) < 0.4) * high
            period = self._u(b, 1, 1, low=6, high=40)
            line = middle + tilt * (cols - middle_x) + wave * torch.sin(cols / period)
            half = self._u(b, 1, 1, low=0.8, high=3.2)
            stroke = ((half - (rows - line).abs()) + 0.5).clamp(0, 1) * inside
            is_on = self._u(b, 1, 1) < (1.0, 0.5, 0.3)[index]
            is_on = is_on | (is_cross & (index == 1))
            ink = torch.maximum(ink, stroke * is_on)
        return ink * self._u(b, 1, 1, low=0.5, high=1.0)

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

    def _strikes(self, ends: torch.Tensor, high: torch.Tensor) -> torch.Tensor:
        """One to three strokes through the whole line, straight or waved."""
        b = len(ends)
        rows = torch.arange(HIGH, device=self.device)[None, :, None] + 0.5
        cols = torch.arange(WIDE, device=self.device)[None, None, :] + 0.5
        ink = torch.zeros(b, HIGH, WIDE, device=self.device)
        inside = (cols > ends[:, :1, None] - 10) & (cols < ends[:, 1:, None] + 10)
        for index in range(3):
            middle = HIGH / 2 + 0.25 * high[:, None, None] * self._u(b, 1, 1, low=-1)
            tilt = 0.01 * self._n(b, 1, 1)
            wave = self._u(b, 1, 1, high=0.3) * (self._u(b, 1, 1) < 0.4) * high[:, None, None]
            period = self._u(b, 1, 1, low=8, high=40)
            line = middle + tilt * (cols - WIDE / 2) + wave * torch.sin(cols / period)
            half = self._u(b, 1, 1, low=1.2, high=3.0)
            stroke = ((half - (rows - line).abs()) + 0.5).clamp(0, 1) * inside
            is_on = (self._u(b, 1, 1) < (1.0, 0.5, 0.3)[index]).float()
            ink = torch.maximum(ink, stroke * is_on)
        return ink

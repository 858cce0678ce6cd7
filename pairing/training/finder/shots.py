"""Scenes photographed on the accelerator: windows of the photo, and what their pixels are."""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
import torch.nn.functional as nn_f

from pairing.training.finder.canvas import KINDS, NUMBER, PAPER, PX_PER_MM, STRIP
from pairing.training.line_paper import blurred
from pairing.training.phone_photo import Camera


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A network's windows. size: width, height, px. px_per_mm: lowest and highest. turn: how far
    off level, degrees, one standard deviation. quarters: share of windows turned by 90, 180 or 270
    degrees. finer: the grid that the scene is sampled on, in px of the window."""

    size: tuple[int, int]
    px_per_mm: tuple[float, float]
    turn: float
    quarters: float
    lean: float
    finer: int
    blur_px: tuple[float, float]
    off_mm: tuple[float, float]


FAR = View(size=(640, 512), px_per_mm=(3.7, 6.4), turn=6.0, quarters=0.4, lean=0.08, finer=2,
           blur_px=(0.2, 1.0), off_mm=(30.0, 22.0))  # fmt: skip
"""The whole card, to find the line."""
NEAR = View(size=(1024, 160), px_per_mm=(9.0, 13.0), turn=1.2, quarters=0.0, lean=0.015, finer=1,
            blur_px=(0.3, 2.2), off_mm=(12.0, 2.5))  # fmt: skip
"""The line's own stretch, to tell strokes and rules from it."""


@dataclass(slots=True)
class Windows:
    """gray: (b, 1, h, w) 0 to 1. kinds: (b, h/2, w/2) long. altered: (b,) 1, 0 or -1 for untold.
    facing: (b, 2) cosine and sine of the reading direction."""

    gray: torch.Tensor
    kinds: torch.Tensor
    altered: torch.Tensor
    facing: torch.Tensor


class Photographer:
    """Takes windows of a pool of scenes (n, 2, h, w) uint8, where (n, 4) px to look."""

    def __init__(self, device: torch.device, rng: torch.Generator):
        self.device, self.rng = device, rng
        self.camera = Camera(device, rng)

    def _u(self, *shape: int, low: float = 0.0, high: float = 1.0) -> torch.Tensor:
        return low + (high - low) * torch.rand(shape, device=self.device, generator=self.rng)

    def _n(self, *shape: int) -> torch.Tensor:
        return torch.randn(shape, device=self.device, generator=self.rng)

    def taken(
        self, scenes: torch.Tensor, where: torch.Tensor, altered: torch.Tensor, view: View
    ) -> Windows:
        """Windows about `where` (left, top, right, foot), one a scene."""
        _b, _, high, wide = scenes.shape
        grid, angle = self._grid(where, view, (high, wide))
        source = scenes.to(torch.float32)
        gray = nn_f.grid_sample(
            source[:, :1] / 255, grid, padding_mode="border", align_corners=False
        )
        kinds = nn_f.grid_sample(source[:, 1:], grid, mode="nearest", align_corners=False)
        if view.finer > 1:
            gray = nn_f.avg_pool2d(gray, view.finer)
        cell = 2 * view.finer
        shares = torch.cat([
            nn_f.avg_pool2d((kinds == index).float(), cell) * weight
            for index, weight in enumerate(_weights())
        ], 1)  # fmt: skip
        return Windows(
            gray=self._photographed(gray[:, 0], view)[:, None],
            kinds=shares.argmax(1),
            altered=torch.tensor([0.0, 1.0, -1.0], device=self.device)[altered],
            facing=torch.stack([angle.cos(), angle.sin()], 1),
        )

    def _grid(
        self, where: torch.Tensor, view: View, size: tuple[int, int]
    ) -> tuple[torch.Tensor, torch.Tensor]:
        b = len(where)
        out_w, out_h = (v * view.finer for v in view.size)
        scale = self._u(b, low=math.log(view.px_per_mm[0]), high=math.log(view.px_per_mm[1])).exp()
        per = PX_PER_MM / (scale * view.finer)
        quarter = torch.randint(1, 4, (b,), device=self.device, generator=self.rng)
        quarter = torch.where(self._u(b) < view.quarters, quarter, 0)
        angle = quarter * (math.pi / 2) + math.radians(view.turn) * self._n(b).clamp(-2.5, 2.5)
        x = torch.arange(out_w, device=self.device)[None, None] - (out_w - 1) / 2
        y = torch.arange(out_h, device=self.device)[None, :, None] - (out_h - 1) / 2
        lean = view.lean * self._n(b, 2).clamp(-2.5, 2.5)
        depth = 1 + lean[:, :1, None] * x / (out_w / 2) + lean[:, 1:, None] * y / (out_h / 2)
        shear = (0.5 * view.lean * self._n(b))[:, None, None]
        u, v = (x + shear * y) / depth, y * (1 + 0.06 * self._n(b)[:, None, None]) / depth
        cos, sin = angle.cos()[:, None, None], angle.sin()[:, None, None]
        # The text of the scene runs along its x axis: in the window at `angle`.
        sx, sy = cos * u + sin * v, -sin * u + cos * v
        middle = torch.stack([where[:, ::2].mean(1), where[:, 1::2].mean(1)], 1)
        off = torch.tensor(view.off_mm, device=self.device) * PX_PER_MM
        middle = middle + off * self._n(b, 2).clamp(-1.5, 1.5)
        px = sx * per[:, None, None] + middle[:, :1, None]
        py = sy * per[:, None, None] + middle[:, 1:, None]
        grid = torch.stack([(px + 0.5) / size[1] * 2 - 1, (py + 0.5) / size[0] * 2 - 1], -1)
        return grid, angle

    def _photographed(self, gray: torch.Tensor, view: View) -> torch.Tensor:
        b, _high, _wide = gray.shape
        groups = []
        for part in gray.split(max(1, b // 6)):
            low, most = view.blur_px
            blur = float(self._u(1, low=low, high=most))
            motion = float(self._u(1, high=2.0)) if float(self._u(1)) < 0.15 else 0.0
            groups.append(blurred(part, (blur**2 + 0.02) ** 0.5, motion))
        gray = self._lit(torch.cat(groups))
        gray = gray + self._u(b, 1, 1, high=0.03) * self._n(*gray.shape)
        sharp = self._u(b, 1, 1, high=1.2) * (self._u(b, 1, 1) < 0.3)
        gray = gray + sharp * (gray - blurred(gray, 1.2, 0.0))
        groups = [
            self.camera._compressed(part.clamp(0, 1), float(self._u(1, low=35, high=96)))
            for part in gray.split(max(1, b // 4))
        ]
        return (torch.cat(groups).clamp(0, 1) * 255).round() / 255

    def _lit(self, gray: torch.Tensor) -> torch.Tensor:
        b, high, wide = gray.shape
        x = torch.linspace(-1, 1, wide, device=self.device)[None, None]
        y = torch.linspace(-1, 1, high, device=self.device)[None, :, None]
        slope = 0.2 * self._n(b, 2, 1, 1)
        light = self._u(b, 1, 1, low=0.45, high=1.1) * (1 + slope[:, 0] * x + slope[:, 1] * y)
        turn = self._u(b, 1, 1, high=6.3)
        across = torch.cos(turn) * x + torch.sin(turn) * y - self._u(b, 1, 1, low=-0.9, high=0.9)
        steep = torch.exp(self._u(b, 1, 1, low=1.0, high=5.0))
        depth = self._u(b, 1, 1, high=0.6) * (self._u(b, 1, 1) < 0.35)
        seen = gray * light.clamp(0.15, 1.4) * (1 - depth * torch.sigmoid(across * steep))
        spot = (x - self._u(b, 1, 1, low=-1)) ** 2 + (y - self._u(b, 1, 1, low=-1)) ** 2
        glare = self._u(b, 1, 1, high=0.4) * (self._u(b, 1, 1) < 0.1)
        seen = seen + glare * torch.exp(-spot / self._u(b, 1, 1, low=0.02, high=0.3))
        return seen.clamp(0, 1) ** self._u(b, 1, 1, low=0.7, high=1.4)


def _weights() -> list[float]:
    weights = [1.0] * len(KINDS)
    weights[PAPER], weights[STRIP], weights[NUMBER] = 0.35, 0.35, 1.2
    return weights

"""Glyphs drawn on paper: each stretched, slanted, turned and bent in its own way, in ink."""

from __future__ import annotations

import torch

from pairing.training.character_sources import CELL_PX, FIELD_GAIN, HIGH_PX
from pairing.training.glyphs import Glyphs
from pairing.training.marks import HIGH, WIDE, Marks

PATCH = 72
LEAST_HALF_PX = 0.9
"""Half the width that a stroke keeps, of digits 40 high: 0.2 mm in digits of 5 mm."""


class Pens(Marks):
    """Draws batches of glyphs. is_clean: ordinary pens alone."""

    def __init__(self, glyphs: Glyphs, rng: torch.Generator, is_clean: bool):
        super().__init__(glyphs.fields.device, rng)
        self.glyphs, self.is_clean = glyphs, is_clean

    def _drawn(  # noqa: PLR0913, PLR0917 - one glyph's everything
        self,
        chosen: torch.Tensor,
        present: torch.Tensor,
        x: torch.Tensor,
        y: torch.Tensor,
        shape: dict[str, torch.Tensor],
        kind: torch.Tensor,
    ) -> torch.Tensor:
        b = len(chosen)
        row, col = present.nonzero(as_tuple=True)
        loose = shape["loose"][row]
        n = len(row)
        scale_y = shape["high"][row] / HIGH_PX * (1 + 0.07 * loose * self._n(n))
        scale_x = shape["high"][row] / HIGH_PX * shape["aspect"][row]
        scale_x = scale_x * (1 + 0.08 * loose * self._n(n))
        turn = 0.07 * loose * self._n(n)
        shear = shape["slant"][row] + 0.06 * loose * self._n(n)
        thick = shape["thick"][row] + 0.25 * loose * self._n(n)
        # However fine the pen, a stroke of its middle stays: ink that is not there is no text.
        thick = torch.minimum(thick, self.glyphs.half[chosen[row, col]] - LEAST_HALF_PX)
        at_x, at_y = x[row, col], y[row, col]
        whole = (at_x - PATCH / 2).floor()
        steps = torch.arange(PATCH, device=self.device) + 0.5
        u = (whole - at_x)[:, None, None] + steps[None, None, :]
        v = (torch.arange(HIGH, device=self.device) + 0.5)[None, :, None] - at_y[:, None, None]
        cos, sin = turn.cos()[:, None, None], turn.sin()[:, None, None]
        u, v = cos * u + sin * v, -sin * u + cos * v
        cell_y = v / scale_y[:, None, None]
        cell_x = u / scale_x[:, None, None] + shear[:, None, None] * cell_y
        bend = 1.3 * loose[:, None, None]
        p, q = (self._u(n, 1, 1, high=6.3) for _ in (0, 1))
        cell_x, cell_y = (
            cell_x + bend * self._n(n, 1, 1) * torch.sin(cell_y / 9 + p),
            cell_y + bend * self._n(n, 1, 1) * torch.sin(cell_x / 9 + q),
        )
        grid = torch.stack([cell_x, cell_y], -1) / (CELL_PX / 2)
        field = self.glyphs.fields[chosen[row, col]][:, None].float()
        sampled = torch.nn.functional.grid_sample(
            field, grid, mode="bilinear", padding_mode="zeros", align_corners=False
        )[:, 0]
        signed = (sampled - 128) / FIELD_GAIN - thick[:, None, None]
        soft = 0.7 / scale_y[:, None, None].clamp(min=0.5)
        ink = (signed / soft + 0.5).clamp(0, 1)
        ink = ink * (sampled > 1)
        return self._pressed(self._pasted(b, row, whole, ink), kind)

    def _pasted(
        self, b: int, row: torch.Tensor, left: torch.Tensor, ink: torch.Tensor
    ) -> torch.Tensor:
        """(b, HIGH, WIDE) with patches (n, HIGH, PATCH) put into lines `row` (n,), their first
        columns at `left` (n,)."""
        canvas = torch.zeros(b, HIGH, WIDE + 2 * PATCH, device=self.device)
        across = left.long()[:, None] + PATCH + torch.arange(PATCH, device=self.device)
        across = across.clamp(0, WIDE + 2 * PATCH - 1)
        down = torch.arange(HIGH, device=self.device)
        index = (row[:, None, None] * HIGH + down[None, :, None]) * (WIDE + 2 * PATCH)
        index = index + across[:, None, :]
        canvas.view(-1).scatter_reduce_(0, index.reshape(-1), ink.reshape(-1), "amax")
        return canvas[:, :, PATCH:-PATCH]

    def _pressed(self, ink: torch.Tensor, kind: torch.Tensor) -> torch.Tensor:
        """Uneven ink: pressure by hand; dropped dots and streaks in print."""
        b = len(ink)
        broad = self._u(b, 1, 5, 60)
        uneven = torch.nn.functional.interpolate(
            broad, (HIGH, WIDE), mode="bilinear", align_corners=False
        )[:, 0]
        depth = self._u(b, 1, 1, high=0.2 if self.is_clean else 0.4)
        ink = ink * (1 - depth * uneven)
        share = torch.where(kind == 3, 0.08, 0.0 if self.is_clean else 0.04)
        dotted = (self._u(b) < share).nonzero()[:, 0]
        size = (len(dotted), 1, HIGH // 3, WIDE // 3)
        dots = (self._u(*size) < self._u(len(dotted), 1, 1, 1, high=0.25)).float()
        dots = torch.nn.functional.interpolate(dots, (HIGH, WIDE), mode="nearest")[:, 0]
        ink[dotted] = ink[dotted] * (1 - 0.9 * dots)
        streak = (self._u(b, HIGH, 1) < 0.04) & ((kind == 3) & (self._u(b) < 0.1))[:, None, None]
        return ink * (1 - 0.7 * streak)

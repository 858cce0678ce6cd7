"""Lines in which single characters were spoilt after they were written: written over by
another, struck out, scribbled over; and where."""

from __future__ import annotations

import torch

from pairing.training.glyphs import pick
from pairing.training.marks import HIGH, WIDE
from pairing.training.network import STEPS
from pairing.training.pens import PATCH
from pairing.training.writing import Lines, Writer

STEP_PX = WIDE // STEPS
"""Columns of the paper for one step of the network."""
POINTS = 9
"""Of a scribble."""
_SPOILT_LINES, _SPOILT_SHARE = 0.5, 0.06
_KINDS = (0.5, 0.32, 0.18)
"""Shares of written over, struck out, scribbled over. Common practice, no source."""


class Spoiler(Writer):
    """Writes lines as `Writer` does, and spoils characters in half of them."""

    def spoilt(self, b: int) -> tuple[Lines, torch.Tensor]:
        """b new lines and (b, STEPS): 1 where a spoilt character stands, 0 where none does, -1
        where one is near and in lines that are no number or struck out as a whole."""
        self.where = torch.zeros(b, STEPS, device=self.device)
        lines = self.lines(b)
        is_number = (lines.texts >= 0).any(1, keepdim=True)
        return lines, torch.where(is_number, self.where, -1.0)

    def _correct(  # noqa: PLR0913, PLR0917 - as `_drawn`
        self,
        ink: torch.Tensor,
        texts: torch.Tensor,
        hands: torch.Tensor,
        at: tuple[torch.Tensor, torch.Tensor],
        shape: dict[str, torch.Tensor],
        kind: torch.Tensor,
    ) -> None:
        b = len(kind)
        is_spoilt = (self._u(b, 1) < _SPOILT_LINES) & (self._u(*texts.shape) < _SPOILT_SHARE)
        is_spoilt &= texts >= 0
        shares = torch.tensor(_KINDS, device=self.device)
        how = torch.multinomial(shares, texts.numel(), replacement=True, generator=self.rng)
        how = how.view(texts.shape)
        over, drawn = self._over(texts, hands, at, shape, kind, is_spoilt & (how == 0))
        torch.maximum(ink, drawn, out=ink)
        struck = is_spoilt & (how > 0)
        if struck.any():
            drawn = self._strokes(texts, at, shape, struck, how == 1)
            torch.maximum(ink, self._pressed(drawn, kind), out=ink)
        self._mark(at[0], shape["high"], over | struck)

    def _over(  # noqa: PLR0913, PLR0917 - as `_drawn`
        self,
        texts: torch.Tensor,
        hands: torch.Tensor,
        at: tuple[torch.Tensor, torch.Tensor],
        shape: dict[str, torch.Tensor],
        kind: torch.Tensor,
        where: torch.Tensor,
    ) -> tuple[torch.Tensor, torch.Tensor]:
        """Where another digit was written on top, by the same pen or another, and its ink. Print
        is written over by hand."""
        new = self._i(10, *texts.shape)
        people = torch.cat(self.pools[:3])
        other = people[self._i(len(people), *texts.shape)]
        is_other = (kind == 3)[:, None] | (self._u(*texts.shape) < 0.1)
        chosen = pick(self.glyphs, torch.where(is_other, other, hands), new, self.rng)
        where = where & (new != texts) & (chosen >= 0)
        if not where.any():
            return where, torch.zeros(len(kind), HIGH, WIDE, device=self.device)
        high = shape["high"][:, None]
        x = at[0] + 0.12 * high * self._n(*texts.shape)
        y = at[1] + 0.06 * high * self._n(*texts.shape)
        pen = {**shape, "high": shape["high"] * self._u(len(kind), low=0.9, high=1.3)}
        pen["thick"] = shape["thick"] + self._u(len(kind), low=-1.5, high=0.3)
        pen["loose"] = torch.where(kind == 3, 0.5, shape["loose"])
        written = torch.where(kind == 3, 2, kind)
        return where, self._drawn(chosen, where, x, y, pen, written)

    def _strokes(
        self,
        texts: torch.Tensor,
        at: tuple[torch.Tensor, torch.Tensor],
        shape: dict[str, torch.Tensor],
        where: torch.Tensor,
        is_one: torch.Tensor,
    ) -> torch.Tensor:
        """One stroke through a character, or a scribble over it."""
        row, col = where.nonzero(as_tuple=True)
        n, high = len(row), shape["high"][row][:, None, None]
        x, y = at[0][row, col], at[1][row, col]
        scribble = self._u(n, POINTS, 2, low=-0.5, high=0.5) * torch.tensor(
            [0.75, 0.95], device=self.device
        )
        # From the horizontal; a 0 with a slanted stroke and a 7 with a level one are none spoilt.
        text = texts[row, col]
        angle = self._u(n, low=-0.4, high=2.2)
        angle = torch.where(text == 0, self._u(n, low=-0.15, high=0.15), angle)
        angle = torch.where(text == 7, self._u(n, low=0.5, high=1.0), angle)
        angle = torch.where(text == 1, self._u(n, low=-0.3, high=0.6), angle)
        long = self._u(n, low=0.4, high=0.85)
        way = torch.stack([angle.cos(), -angle.sin()], 1) * long[:, None]
        along = torch.linspace(-1, 1, POINTS, device=self.device)[None, :, None]
        points = torch.where(is_one[row, col][:, None, None], along * way[:, None], scribble)
        points = points * high + 0.06 * high * self._n(n, 1, 2)
        whole = (x - PATCH / 2).floor()
        u = (torch.arange(PATCH, device=self.device) + 0.5)[None, None, :] + (whole - x)[
            :, None, None
        ]
        v = (torch.arange(HIGH, device=self.device) + 0.5)[None, :, None] - y[:, None, None]
        nearest = torch.full((n, HIGH, PATCH), 99.0, device=self.device)
        for index in range(POINTS - 1):
            start, end = points[:, index], points[:, index + 1]
            (ax, ay), (dx, dy) = start.T[:, :, None, None], (end - start).T[:, :, None, None]
            share = ((u - ax) * dx + (v - ay) * dy) / (dx * dx + dy * dy).clamp(min=1e-6)
            share = share.clamp(0, 1)
            away = ((u - ax - share * dx) ** 2 + (v - ay - share * dy) ** 2).sqrt()
            nearest = torch.minimum(nearest, away)
        half = self._u(n, 1, 1, low=1.0, high=2.8)
        return self._pasted(len(texts), row, whole, (half - nearest + 0.5).clamp(0, 1))

    def _mark(self, x: torch.Tensor, high: torch.Tensor, where: torch.Tensor) -> None:
        middles = (torch.arange(STEPS, device=self.device) + 0.5) * STEP_PX
        away = (middles[None, None, :] - x[:, :, None]).abs() / high[:, None, None]
        away = torch.where(where[:, :, None], away, 99.0).amin(1)
        near = torch.where(away < 0.8, -1.0, 0.0)
        self.where = torch.where(away < 0.22, 1.0, near)

"""Numbers that were altered after they were written: single characters written over, struck out
or scribbled over, a group or the whole struck out, digits put in above or below; and where."""

from __future__ import annotations

from dataclasses import replace

import torch

from pairing.training.drawn_lines import Lines
from pairing.training.glyphs import pick
from pairing.training.marks import HIGH, WIDE
from pairing.training.network import STEPS
from pairing.training.pens import PATCH
from pairing.training.sorts import ALTERED
from pairing.training.writing import Writer

STEP_PX = WIDE // STEPS
"""Columns of the paper for one step of the network."""
POINTS = 9
"""Of a scribble."""
WHOLE, GROUP, SINGLE, ADDED = 0.03, 0.03, 0.07, 0.012
"""Shares of lines struck out as a whole, or in a group of characters, with single characters
spoiled, with digits put in. Common practice, no source."""
_SPOILED_SHARE = 0.07
_KINDS = (0.5, 0.32, 0.18)
"""Shares of written over, struck out, scribbled over. Common practice, no source."""


class Spoiler(Writer):
    """Writes lines as `Writer` does, and alters some of the numbers. What is left of a line
    struck out as a whole is no text; of one altered in part nobody is taught to read it."""

    def _altered(
        self,
        lines: Lines,
        hands: torch.Tensor,
        at: tuple[torch.Tensor, torch.Tensor],
        shape: dict[str, torch.Tensor],
        kind: torch.Tensor,
    ) -> Lines:
        texts, ink = lines.texts, lines.ink
        if self.is_number:
            return lines
        b, length = len(kind), (texts >= 0).sum(1)
        chance = self._u(b)
        chance = torch.where(length > 0, chance, 1.0)
        is_whole, chance = chance < WHOLE, chance - WHOLE
        is_group, chance = (chance >= 0) & (chance < GROUP) & (length > 2), chance - GROUP
        is_single, chance = (chance >= 0) & (chance < SINGLE), chance - SINGLE
        is_added = (chance >= 0) & (chance < ADDED)
        where = self._struck(ink, texts, at, shape, is_whole, is_group)
        where |= self._singly(ink, texts, hands, at, shape, kind, is_single)
        where |= self._put_in(ink, texts, hands, at, shape, kind, is_added)
        is_altered = where.any(1)
        return replace(
            lines,
            texts=torch.where(is_whole[:, None], -1, texts),
            what=torch.where(is_altered, ALTERED, lines.what),
            is_text=lines.is_text & (~is_altered | is_whole),
            spoiled=torch.where((length > 0)[:, None], self._mark(at[0], shape["high"], where),
                               lines.spoiled),
        )  # fmt: skip

    def _struck(  # noqa: PLR0913, PLR0917 - as `_drawn`
        self,
        ink: torch.Tensor,
        texts: torch.Tensor,
        at: tuple[torch.Tensor, torch.Tensor],
        shape: dict[str, torch.Tensor],
        is_whole: torch.Tensor,
        is_group: torch.Tensor,
    ) -> torch.Tensor:
        """Strokes through whole lines or through groups of their characters, and where."""
        some = (is_whole | is_group).nonzero()[:, 0]
        where = torch.zeros_like(texts, dtype=torch.bool)
        if not len(some):
            return where
        n, high = len(some), shape["high"][some]
        length = (texts[some] >= 0).sum(1)
        count = torch.where(is_whole[some], length, 2 + self._i(7, n)).minimum(length)
        first = (self._u(n) * (length - count + 1)).long()
        index = torch.arange(texts.shape[1], device=self.device)
        last = first + count - 1
        x = at[0][some]
        room = high * self._u(n, low=0.1, high=0.7)
        ends = torch.stack([
            x.gather(1, first[:, None])[:, 0] - room, x.gather(1, last[:, None])[:, 0] + room
        ], 1)  # fmt: skip
        # Some go on to the box's sides, as a rule would.
        is_wide = (is_whole[some] & (self._u(n) < 0.3))[:, None]
        sides = torch.tensor([-20.0, WIDE + 20.0], device=self.device)
        ends = torch.where(is_wide, sides, ends)
        y = at[1][some].gather(1, ((first + last) // 2)[:, None])[:, 0]
        ink[some] = torch.maximum(ink[some], self._strikes(ends, high, y))
        where[some] = (index >= first[:, None]) & (index <= last[:, None])
        return where

    def _singly(  # noqa: PLR0913, PLR0917 - as `_drawn`
        self,
        ink: torch.Tensor,
        texts: torch.Tensor,
        hands: torch.Tensor,
        at: tuple[torch.Tensor, torch.Tensor],
        shape: dict[str, torch.Tensor],
        kind: torch.Tensor,
        is_single: torch.Tensor,
    ) -> torch.Tensor:
        """Single characters written over, struck out, scribbled over, and where."""
        is_spoiled = is_single[:, None] & (self._u(*texts.shape) < _SPOILED_SHARE) & (texts >= 0)
        shares = torch.tensor(_KINDS, device=self.device)
        how = torch.multinomial(shares, texts.numel(), replacement=True, generator=self.rng)
        how = how.view(texts.shape)
        over, drawn = self._over(texts, hands, at, shape, kind, is_spoiled & (how == 0))
        torch.maximum(ink, drawn, out=ink)
        struck = is_spoiled & (how > 0)
        some = struck.any(1).nonzero()[:, 0]
        if len(some):
            few = {name: value[some] for name, value in shape.items()}
            places = (at[0][some], at[1][some])
            drawn = self._strokes(texts[some], places, few, struck[some], how[some] == 1)
            ink[some] = torch.maximum(ink[some], self._pressed(drawn, kind[some]))
        return over | struck

    def _put_in(  # noqa: PLR0913, PLR0917 - as `_drawn`
        self,
        ink: torch.Tensor,
        texts: torch.Tensor,
        hands: torch.Tensor,
        at: tuple[torch.Tensor, torch.Tensor],
        shape: dict[str, torch.Tensor],
        kind: torch.Tensor,
        is_added: torch.Tensor,
    ) -> torch.Tensor:
        """One to three smaller digits above or below the line, and where."""
        some = is_added.nonzero()[:, 0]
        where = torch.zeros_like(texts, dtype=torch.bool)
        if not len(some):
            return where
        n, few = len(some), {name: value[some] for name, value in shape.items()}
        length = (texts[some] >= 0).sum(1, keepdim=True)
        first = (self._u(n, 1) * length).long()
        index = torch.arange(texts.shape[1], device=self.device)
        where[some] = (index >= first) & (index < (first + 1 + self._i(3, n, 1)).minimum(length))
        new = pick(self.glyphs, hands[some], self._i(10, *texts[some].shape), self.rng)
        where[some] &= new >= 0
        few["high"] = shape["high"][some] * self._u(n, low=0.45, high=0.8)
        side = torch.where(self._u(n) < 0.7, -1.0, 1.0)
        up = side * (shape["high"][some] * 0.45 + few["high"] * self._u(n, low=0.1, high=0.55))
        x = at[0][some] + (0.6 * shape["high"][some] * self._u(n, low=-1.0))[:, None]
        y = at[1][some] + up[:, None]
        drawn = self._drawn(new, where[some], x, y, few, kind[some])
        ink[some] = torch.maximum(ink[some], drawn)
        return where

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
        # From the horizontal; a 0 with a slanted stroke and a 7 with a level one are none spoiled.
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

    def _mark(self, x: torch.Tensor, high: torch.Tensor, where: torch.Tensor) -> torch.Tensor:
        middles = (torch.arange(STEPS, device=self.device) + 0.5) * STEP_PX
        away = torch.full((len(x), STEPS), 99.0, device=self.device)
        some = where.any(1).nonzero()[:, 0]
        near = (middles[None, None, :] - x[some][:, :, None]).abs() / high[some][:, None, None]
        away[some] = torch.where(where[some][:, :, None], near, 99.0).amin(1)
        return torch.where(away < 0.22, 1.0, torch.where(away < 0.8, -1.0, 0.0))

"""Lines of random characters on paper, a batch at a time: what, by which hand, and where.

Lines are laid as the finder leaves them, measured. Until then they were sheared by 20 degrees and
worn to dashes, and that, not the network's size, held the figures down.
"""

from __future__ import annotations

from dataclasses import dataclass

import torch

from pairing.training.glyphs import Glyphs, pick
from pairing.training.marks import HIGH, WIDE
from pairing.training.pens import Pens
from pairing.training.sources import CHARACTERS, HIGH_PX

MOST = 26
"""Most characters in a line."""
CLUTTER = 12
"""Glyphs of a caption or of neighbouring text."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """ink: (b, HIGH, WIDE) 0..1. texts: (b, MOST) characters, -1 beyond the end; a line that
    is no number has none. digit_px: (b,) height of the digits. ends: (b, 2) first and last
    column of the line. is_print: (b,)."""

    ink: torch.Tensor
    texts: torch.Tensor
    digit_px: torch.Tensor
    ends: torch.Tensor
    is_print: torch.Tensor


class Writer(Pens):
    """Writes batches of lines with the hands of one part ("train", ...) of the glyphs."""

    def __init__(  # noqa: PLR0913, PLR0917 - a pen, a hand and what to write
        self,
        glyphs: Glyphs,
        part: int,
        rng: torch.Generator,
        shares: tuple[float, ...],
        is_clean: bool = False,
        s10_share: float = 0.19,
    ):
        """shares: of lines by each of KINDS. is_clean: numbers alone, of the usual lengths,
        nothing struck, no words, captions or strangers' digits, ordinary pens and gaps."""
        super().__init__(glyphs, rng, is_clean)
        self.s10_share = s10_share
        self.least_gap = 0.0
        self.pools = []
        for kind in range(4):
            mine = ((glyphs.kind == kind) & (glyphs.part == part)).nonzero()[:, 0]
            full = (glyphs.count[mine, :10] > 0).all(1)
            self.pools.append(mine[full])
        faces = glyphs.kind[:, None].eq(torch.tensor([2, 3], device=self.device)).any(1)
        self.letter_hands = [self.pools[2], self.pools[3]]
        self.strangers = ((glyphs.part == part) & ~faces).nonzero()[:, 0]
        self.shares = torch.tensor(shares, device=self.device)

    def lines(self, b: int) -> Lines:
        """b new lines."""
        texts, is_s10, is_words = self._texts(b)
        kind = torch.multinomial(self.shares, b, replacement=True, generator=self.rng)
        kind = torch.where(is_words & (kind < 2), torch.full_like(kind, 2), kind)
        hands, is_print = self._hands(kind, texts), kind == 3
        known = texts.clamp(min=0)
        chosen = pick(self.glyphs, hands, known, self.rng)
        # A hand that lacks a character borrows it from a face of its sort.
        lent = pick(self.glyphs, self._lenders(is_print)[:, None].expand_as(hands), known, self.rng)
        chosen = torch.where(chosen < 0, lent, chosen)
        texts = torch.where(chosen < 0, -1, texts)
        shape = self._shape(b, kind)
        x, y, ends = self._places(texts, chosen, shape, is_s10, is_print)
        ink = self._drawn(chosen, texts >= 0, x, y, shape, kind)
        self._correct(ink, texts, hands, (x, y), shape, kind)
        if not self.is_clean:
            self._clutter(ink, shape["high"])
            struck = self._u(b) < 0.02
            some = struck.nonzero()[:, 0]
            ink[some] = torch.maximum(ink[some], self._strikes(ends[some], shape["high"][some]))
            texts = torch.where((is_words | struck)[:, None], -1, texts)
        return Lines(ink=ink, texts=texts, digit_px=shape["high"], ends=ends, is_print=is_print)

    def _texts(self, b: int) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
        at = torch.arange(MOST, device=self.device)
        lengths = torch.tensor([20, 22, 26], device=self.device)
        weights = torch.tensor([0.3, 0.6, 0.1], device=self.device)
        length = lengths[torch.multinomial(weights, b, replacement=True, generator=self.rng)]
        is_s10 = self._u(b) < self.s10_share
        length = torch.where(is_s10, 13, length)
        is_words = torch.zeros(b, dtype=torch.bool, device=self.device)
        if not self.is_clean:
            odd, few = self._u(b) < 0.12, self._u(b) < 0.12
            length = torch.where(odd & ~is_s10, 13 + self._i(14, b), length)
            length = torch.where(few & ~is_s10, 1 + self._i(14, b), length)
            is_words = self._u(b) < 0.03
        digits, letters = self._i(10, b, MOST), 10 + self._i(26, b, MOST)
        repeated = (self._u(b, MOST) < 0.06).cummax(1).values & (self._u(b, MOST) < 0.3)
        digits = torch.where(repeated, digits.roll(1, 1), digits)
        ends = (at < 2) | ((at >= 11) & (at < 13))
        texts = torch.where(is_s10[:, None] & ends, letters, digits)
        texts = torch.where(is_words[:, None], letters, texts)
        return torch.where(at < length[:, None], texts, -1), is_s10, is_words

    def _hands(self, kind: torch.Tensor, texts: torch.Tensor) -> torch.Tensor:
        hand = torch.zeros_like(kind)
        for index, pool in enumerate(self.pools):
            if len(pool):
                hand = torch.where(kind == index, pool[self._i(len(pool), len(kind))], hand)
        hands = hand[:, None].expand_as(texts)
        if self.is_clean or not len(self.strangers):
            return hands
        strange = (self._u(*texts.shape) < 0.015) & (kind < 2)[:, None]
        other = self.strangers[self._i(len(self.strangers), *texts.shape)]
        has = self.glyphs.count[other, texts.clamp(min=0)] > 0
        return torch.where(strange & has, other, hands)

    def _lenders(self, is_print: torch.Tensor) -> torch.Tensor:
        hand, face = (pool[self._i(len(pool), len(is_print))] for pool in self.letter_hands)
        return torch.where(is_print, face, hand)

    def _shape(self, b: int, kind: torch.Tensor) -> dict[str, torch.Tensor]:
        print_ = kind == 3
        steep = 1.0 if self.is_clean else torch.where(self._u(b) < 0.25, 1.8, 1.0)
        slant = torch.where(print_, 0.0, 0.18 * steep * self._n(b))
        most = 1.0 if self.is_clean else 1.4
        thick = torch.where(
            print_, (0.5 * self._n(b)).clamp(-1.5, 0.7 * most), self._u(b, low=-1.2, high=most)
        )
        thick = torch.where(kind == 0, self._u(b, low=-0.8, high=1.2 * most), thick)
        self.least_gap = 0.5 if self.is_clean else -1.5
        low, high = (37, 47) if self.is_clean else (32, 50)
        spread, usual = (0.10, 0.16) if self.is_clean else (0.14, 0.12)
        return {
            # The finder scales a line by the height of its marks: see `written.lines`.
            "high": self._u(b, low=low, high=high),
            "aspect": self._u(b, low=0.72, high=1.3),
            "slant": slant,
            "thick": thick,
            "gap": torch.where(print_, self._u(b, low=0.04, high=0.3), spread * self._n(b) + usual),
            "is_mono": self._u(b) < torch.where(print_, 0.45, 0.12),
            "group_gap": self._u(b, low=0.0, high=1.0) * (self._u(b) < 0.75),
            "loose": torch.where(print_, 0.02, 1.0) * self._u(b, low=0.2, high=1.0),
        }

    def _places(
        self,
        texts: torch.Tensor,
        chosen: torch.Tensor,
        shape: dict[str, torch.Tensor],
        is_s10: torch.Tensor,
        is_print: torch.Tensor,
    ) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
        """Middles (x, y) of the glyphs, px; `shape["aspect"]` shrinks where a line is too long."""
        b = len(texts)
        present = texts >= 0
        left = -self.glyphs.left[chosen.clamp(min=0)]
        right = self.glyphs.right[chosen.clamp(min=0)]
        gaps = (shape["gap"][:, None] + 0.08 * shape["loose"][:, None] * self._n(b, MOST)) * HIGH_PX
        gaps = gaps.clamp(min=self.least_gap)
        pitch = self._u(b, 1, low=0.62, high=0.85) * HIGH_PX
        mono = shape["is_mono"][:, None]
        before = torch.where(mono, pitch / 2, left + gaps / 2)
        after = torch.where(mono, pitch / 2, right + gaps / 2)
        wide = shape["group_gap"][:, None] * HIGH_PX * (1 + 0.2 * self._n(b, MOST))
        before = before + torch.where(self._group_starts(b, is_s10), wide.clamp(min=0), 0.0)
        steps = torch.where(present, before + after, 0.0)
        ends = steps.cumsum(1)
        middle = ends - torch.where(present, after, 0.0)
        scale = shape["high"] / HIGH_PX
        total = ends[:, -1] * scale
        most = self._u(b, low=WIDE * 0.8, high=WIDE * 0.955)
        shape["aspect"] = torch.minimum(shape["aspect"], most / total.clamp(min=1.0))
        total = total * shape["aspect"]
        room = (WIDE - 48 - total).clamp(min=0)
        start = 24 + room * self._u(b) * (self._u(b) < 0.7)
        x = start[:, None] + middle * (scale * shape["aspect"])[:, None]
        phase = self._u(b, 1, high=6.3)
        wave = self._u(b, 1, high=0.07) * torch.sin(x / self._u(b, 1, low=120, high=500) + phase)
        wobble = 0.035 * self._n(b, MOST)
        drift = 0.06 * self._n(b, 1) * (x / WIDE - 0.5)
        high = shape["high"][:, None]
        y = (wave + wobble + drift) * shape["loose"][:, None] * high
        # The finder lays a line's middle on the picture's; it may be off by a little.
        off = (HIGH - shape["high"]) / 2 * (0.2 if self.is_clean else 0.5)
        y = y + HIGH / 2 + (self._u(b, low=-1.0) * off)[:, None]
        return x, y, torch.stack([start, start + total], 1)

    def _group_starts(self, b: int, is_s10: torch.Tensor) -> torch.Tensor:
        at = torch.arange(MOST, device=self.device)
        fours = (at % 4 == 0) & (at > 0)
        threes = (at % 3 == 0) & (at > 0)
        postal = torch.isin(at, torch.tensor([2, 5, 8, 11], device=self.device))
        usual = torch.where(is_s10[:, None], postal, fours)
        other = self._u(b, 1) < 0.08
        usual = torch.where(other, threes, usual)
        some = (self._u(b, MOST) < 0.2) & (at > 0)
        return torch.where(self._u(b, 1) < 0.1, some, usual)

    def _correct(  # noqa: PLR0913, PLR0917 - as `_drawn`
        self,
        ink: torch.Tensor,
        texts: torch.Tensor,
        hands: torch.Tensor,
        at: tuple[torch.Tensor, torch.Tensor],
        shape: dict[str, torch.Tensor],
        kind: torch.Tensor,
    ) -> None:
        """In some lines by hand, a digit that another was written over: the first, with a finer
        pen, in the place of the one that counts."""
        if self.is_clean:
            return
        some = ((self._u(len(kind)) < 0.06) & (kind < 3)).nonzero()[:, 0]
        texts, hands = texts[some], hands[some]
        was = self._i(10, *texts.shape)
        under = pick(self.glyphs, hands, was, self.rng)
        is_under = (self._u(*texts.shape) < 0.12) & (texts >= 0) & (was != texts) & (under >= 0)
        if not is_under.any():
            return
        finer = {name: value[some] for name, value in shape.items()}
        finer["thick"] = finer["thick"] + 0.5
        drawn = self._drawn(under, is_under, at[0][some], at[1][some], finer, kind[some])
        ink[some] = torch.maximum(ink[some], drawn)

    def _clutter(self, ink: torch.Tensor, high: torch.Tensor) -> None:
        """A caption or a neighbour's text along the upper or lower edge, and bars."""
        some = (self._u(len(high)) < 0.3).nonzero()[:, 0]
        if not len(some):
            return
        b, high = len(some), high[some]
        hands = self.pools[3][self._i(len(self.pools[3]), b)][:, None].expand(b, CLUTTER)
        chosen = pick(self.glyphs, hands, self._i(36, b, CLUTTER), self.rng)
        small = self._u(b, low=10, high=24)
        shape = {
            "high": small,
            "aspect": torch.ones(b, device=self.device),
            "slant": torch.zeros(b, device=self.device),
            "thick": torch.zeros(b, device=self.device),
            "loose": torch.zeros(b, device=self.device),
        }
        start = self._u(b, 1, low=-50, high=WIDE)
        steps = torch.arange(CLUTTER, device=self.device)
        x = start + steps * small[:, None] * self._u(b, 1, low=0.6, high=0.9)
        outside = (HIGH / 2 + high / 2 + small * self._u(b, low=0.3, high=0.9)).clamp(max=HIGH + 8)
        above = self._u(b) < 0.5
        y = torch.where(above, HIGH - outside, outside)[:, None].expand(b, CLUTTER)
        printed = torch.full((b,), 3, device=self.device)
        drawn = self._drawn(chosen, chosen >= 0, x, y, shape, printed)
        ink[some] = torch.maximum(ink[some], torch.maximum(drawn, self._bars(b, high)))


def spelled(texts: torch.Tensor) -> list[str]:
    """The texts of a batch."""
    return ["".join(CHARACTERS[c] for c in row if c >= 0) for row in texts.tolist()]

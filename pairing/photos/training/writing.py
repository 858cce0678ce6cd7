"""Lines of random characters on paper, a batch at a time: what, by which hand, and where."""

from __future__ import annotations

from dataclasses import dataclass

import torch

from pairing.photos.training.glyphs import Glyphs, pick
from pairing.photos.training.marks import HIGH, WIDE, Marks
from pairing.photos.training.sources import CELL_PX, CHARACTERS, FIELD_GAIN, HIGH_PX

MOST = 26
"""Most characters in a line."""
CLUTTER = 12
"""Glyphs of a caption or of neighbouring text."""
PATCH = 72
LEAST_HALF_PX = 0.9
"""Half the width that a stroke keeps, of digits 40 high: 0.2 mm in digits of 5 mm."""


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


class Writer(Marks):
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
        super().__init__(glyphs.fields.device, rng)
        self.glyphs, self.is_clean, self.s10_share = glyphs, is_clean, s10_share
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
        if not self.is_clean:
            ink = torch.maximum(ink, self._clutter(b, shape["high"]))
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
        strange = (self._u(*texts.shape) < 0.04) & (kind < 2)[:, None]
        other = self.strangers[self._i(len(self.strangers), *texts.shape)]
        has = self.glyphs.count[other, texts.clamp(min=0)] > 0
        return torch.where(strange & has, other, hands)

    def _lenders(self, is_print: torch.Tensor) -> torch.Tensor:
        hand, face = (pool[self._i(len(pool), len(is_print))] for pool in self.letter_hands)
        return torch.where(is_print, face, hand)

    def _shape(self, b: int, kind: torch.Tensor) -> dict[str, torch.Tensor]:
        print_ = kind == 3
        slant = torch.where(print_, 0.0, 0.18 * self._n(b))
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
        off = (HIGH - shape["high"]) / 2 * (0.35 if self.is_clean else 0.7)
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
        canvas = torch.zeros(b, HIGH, WIDE + 2 * PATCH, device=self.device)
        across = whole.long()[:, None] + PATCH + torch.arange(PATCH, device=self.device)
        across = across.clamp(0, WIDE + 2 * PATCH - 1)
        down = torch.arange(HIGH, device=self.device)
        index = (row[:, None, None] * HIGH + down[None, :, None]) * (WIDE + 2 * PATCH)
        index = index + across[:, None, :]
        canvas.view(-1).scatter_reduce_(0, index.reshape(-1), ink.reshape(-1), "amax")
        ink = canvas[:, :, PATCH:-PATCH]
        return self._pressed(ink, kind)

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
        is_dotted = (self._u(b) < share)[:, None, None]
        size = (HIGH // 3, WIDE // 3)
        dots = (self._u(b, 1, *size) < self._u(b, 1, 1, 1, high=0.25)).float()
        dots = torch.nn.functional.interpolate(dots, (HIGH, WIDE), mode="nearest")[:, 0]
        ink = torch.where(is_dotted, ink * (1 - 0.9 * dots), ink)
        streak = (self._u(b, HIGH, 1) < 0.04) & ((kind == 3) & (self._u(b) < 0.1))[:, None, None]
        return torch.where(streak, ink * 0.3, ink)

    def _clutter(self, b: int, high: torch.Tensor) -> torch.Tensor:
        """A caption or a neighbour's text along the upper or lower edge, and bars."""
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
        is_on = (self._u(b) < 0.3)[:, None] & (chosen >= 0)
        if not is_on.any():
            return torch.zeros(b, HIGH, WIDE, device=self.device)
        ink = self._drawn(chosen, is_on, x, y, shape, torch.full((b,), 3, device=self.device))
        return torch.maximum(ink, self._bars(b, high))


def spelled(texts: torch.Tensor) -> list[str]:
    """The texts of a batch."""
    return ["".join(CHARACTERS[c] for c in row if c >= 0) for row in texts.tolist()]

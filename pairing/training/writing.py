"""Lines of random characters on paper, a batch at a time: what, by which hand, and where.

Lines are laid as the finder leaves them, measured. Until then they were sheared by 20 degrees and
worn to dashes, and that, not the network's size, held the figures down.
"""

from __future__ import annotations

import torch

from pairing.training.character_sources import CHARACTERS, DRAWN, HIGH_PX
from pairing.training.drawn_lines import Lines
from pairing.training.form_captions import Words
from pairing.training.glyphs import Glyphs, pick
from pairing.training.marks import HIGH, WIDE
from pairing.training.network import STEPS
from pairing.training.pens import Pens
from pairing.training.sorts import NUMBER, PRINT, UNTOLD, WRITING

LONGEST, MOST = 26, 44
"""Most characters in a number, and in a line: the finder squeezes a caption into its picture."""
CLUTTER = 20
"""Glyphs of a caption or of neighboring text."""
FEWEST = 6
"""A shorter number is not told from what else people write (`photos.written.box.FEWEST`)."""
WILD = 0.35
"""Of lines that are written in no usual manner: any pen, any size, digits that touch or lie far
apart, cut off at head or foot."""
_WORDS, _NOTHING = 0.09, 0.015


class Writer(Pens, Words):
    """Writes batches of lines with the hands of one part ("train", ...) of the glyphs."""

    def __init__(  # noqa: PLR0913, PLR0917 - a pen, a hand and what to write
        self,
        glyphs: Glyphs,
        part: int,
        rng: torch.Generator,
        shares: tuple[float, ...],
        is_clean: bool = False,
        s10_share: float = 0.19,
        is_number: bool = False,
    ):
        """shares: of lines by each of KINDS. is_clean: of usual lengths, by one hand, with
        ordinary pens and gaps and nothing at the edges. is_number: numbers of the usual
        lengths alone."""
        super().__init__(glyphs, rng, is_clean)
        self.s10_share, self.is_number = s10_share, is_number or is_clean
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
        texts, is_s10, is_words, starts = self._texts(b)
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
        starts = torch.where(is_words[:, None], starts, self._group_starts(b, is_s10))
        x, y, ends = self._places(texts, chosen, shape, starts, is_words)
        ink = self._drawn(chosen, texts >= 0, x, y, shape, kind)
        what = torch.where(is_words, torch.where(is_print, PRINT, WRITING), NUMBER)
        length = (texts >= 0).sum(1)
        what = torch.where((length < FEWEST) & ~is_words, UNTOLD, what)
        what = torch.where(length == 0, PRINT, what)
        # Whether digits among words are to be read is nobody's question.
        is_text = ~is_words | ((texts < 0) | (texts >= 10)).all(1)
        lines = Lines(
            ink=ink, texts=torch.where(is_words[:, None], -1, texts), digit_px=shape["high"],
            ends=ends, is_print=is_print, cell_px=shape["cell"], what=what, is_text=is_text,
            spoiled=torch.where(is_words, -1.0, 0.0)[:, None].repeat(1, STEPS),
        )  # fmt: skip
        lines = self._altered(lines, hands, (x, y), shape, kind)
        if not self.is_clean:
            self._clutter(lines.ink, shape["high"])
        return lines

    def _altered(
        self,
        lines: Lines,
        hands: torch.Tensor,
        at: tuple[torch.Tensor, torch.Tensor],
        shape: dict[str, torch.Tensor],
        kind: torch.Tensor,
    ) -> Lines:
        """The lines as they are; `spoiling` strikes out and writes over some."""
        del hands, at, shape, kind
        return lines

    def _texts(self, b: int) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor, torch.Tensor]:
        at = torch.arange(MOST, device=self.device)
        lengths = torch.tensor([20, 22, 26], device=self.device)
        weights = torch.tensor([0.3, 0.6, 0.1], device=self.device)
        length = lengths[torch.multinomial(weights, b, replacement=True, generator=self.rng)]
        is_s10 = self._u(b) < self.s10_share
        length = torch.where(is_s10, 13, length)
        is_words = torch.zeros(b, dtype=torch.bool, device=self.device)
        words, starts = self._words(b, MOST)
        if not self.is_number:
            odd, few = self._u(b) < 0.12, self._u(b) < 0.12
            length = torch.where(odd & ~is_s10, 13 + self._i(LONGEST - 12, b), length)
            length = torch.where(few & ~is_s10, 1 + self._i(14, b), length)
            is_words = self._u(b) < _WORDS
            length = torch.where(is_words, self._word_lengths(b, MOST), length)
            length = torch.where(self._u(b) < _NOTHING, 0, length)
        digits, letters = self._i(10, b, MOST), 10 + self._i(26, b, MOST)
        repeated = (self._u(b, MOST) < 0.06).cummax(1).values & (self._u(b, MOST) < 0.3)
        digits = torch.where(repeated, digits.roll(1, 1), digits)
        ends = (at < 2) | ((at >= 11) & (at < 13))
        texts = torch.where(is_s10[:, None] & ends, letters, digits)
        texts = torch.where(is_words[:, None], words, texts)
        return torch.where(at < length[:, None], texts, -1), is_s10 & ~is_words, is_words, starts

    def _hands(self, kind: torch.Tensor, texts: torch.Tensor) -> torch.Tensor:
        hand = torch.zeros_like(kind)
        for index, pool in enumerate(self.pools):
            if len(pool):
                hand = torch.where(kind == index, pool[self._i(len(pool), len(kind))], hand)
        hands = hand[:, None].expand_as(texts)
        if self.is_clean or not len(self.strangers):
            return hands
        share = torch.where(self._u(len(kind)) < 0.08, 1.0, 0.015)[:, None]
        strange = (self._u(*texts.shape) < share) & (kind < 2)[:, None]
        other = self.strangers[self._i(len(self.strangers), *texts.shape)]
        has = self.glyphs.count[other, texts.clamp(min=0)] > 0
        return torch.where(strange & has, other, hands)

    def _lenders(self, is_print: torch.Tensor) -> torch.Tensor:
        hand, face = (pool[self._i(len(pool), len(is_print))] for pool in self.letter_hands)
        return torch.where(is_print, face, hand)

    def _shape(self, b: int, kind: torch.Tensor) -> dict[str, torch.Tensor]:
        """How each line is written. The finder scales a line by the height of its marks: see
        `written.box_lines`."""
        print_ = kind == 3
        usual = self._usual(b, kind)
        usual["cell"] = torch.zeros(b, device=self.device)
        usual["off"] = self._u(b, low=-1.0) * (HIGH - usual["high"]) / 2
        usual["off"] = usual["off"] * (0.2 if self.is_clean else 0.5)
        if self.is_clean:
            return usual
        hand = 1.0 - print_.float()
        gap = torch.where(print_, self._u(b, low=0.0, high=0.6), 0.06 + 0.2 * self._n(b))
        tight = self._u(b) < 0.35
        gap = torch.where(tight, (0.06 - 0.1 * hand) * self._u(b), gap)
        high = self._u(b, low=25, high=58)
        is_comb = (self._u(b) < 0.2).float()
        wild = {
            "high": high,
            "aspect": self._u(b, low=0.6, high=1.5),
            "slant": usual["slant"] * (1 + 0.5 * self._u(b)),
            "thick": self._u(b, low=-2.6, high=1.8) * torch.where(print_, 0.7, 1.0),
            "gap": gap,
            "least_gap": torch.where(print_, -0.5, self._u(b, low=-7.0, high=0.0)),
            "is_mono": torch.maximum(is_comb, usual["is_mono"]),
            "pitch": self._u(b, low=0.65, high=1.4),
            "cell": is_comb,
            "group_gap": self._u(b, high=2.0) * (self._u(b) < 0.7) * (1 - is_comb),
            "loose": usual["loose"] * self._u(b, low=1.0, high=1.7),
            # Head or foot may be cut off by an eighth of the digits' height.
            "off": self._u(b, low=-1.0) * ((HIGH - high).clamp(min=0) / 2 + 0.06 * high),
        }
        is_wild = self._u(b) < WILD
        return {name: torch.where(is_wild, wild[name], usual[name]) for name in wild}

    def _usual(self, b: int, kind: torch.Tensor) -> dict[str, torch.Tensor]:
        print_ = kind == 3
        steep = 1.0 if self.is_clean else torch.where(self._u(b) < 0.25, 1.8, 1.0)
        most = 1.0 if self.is_clean else 1.4
        thick = torch.where(
            print_, (0.5 * self._n(b)).clamp(-1.5, 0.7 * most), self._u(b, low=-1.2, high=most)
        )
        low, high = (37, 47) if self.is_clean else (32, 50)
        spread, usual = (0.10, 0.16) if self.is_clean else (0.14, 0.12)
        return {
            "high": self._u(b, low=low, high=high),
            "aspect": self._u(b, low=0.72, high=1.3),
            "slant": torch.where(print_, 0.0, 0.18 * steep * self._n(b)),
            "thick": torch.where(kind == 0, self._u(b, low=-0.8, high=1.2 * most), thick),
            "gap": torch.where(print_, self._u(b, low=0.04, high=0.3), spread * self._n(b) + usual),
            "least_gap": torch.full((b,), 0.5 if self.is_clean else -1.5, device=self.device),
            "is_mono": (self._u(b) < torch.where(print_, 0.45, 0.12)).float(),
            "pitch": self._u(b, low=0.62, high=0.85),
            "group_gap": self._u(b, low=0.0, high=1.0) * (self._u(b) < 0.75),
            "loose": torch.where(print_, 0.02, 1.0) * self._u(b, low=0.2, high=1.0),
        }

    def _places(
        self,
        texts: torch.Tensor,
        chosen: torch.Tensor,
        shape: dict[str, torch.Tensor],
        starts: torch.Tensor,
        is_words: torch.Tensor,
    ) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
        """Middles (x, y) of the glyphs, px; `shape["aspect"]` shrinks where a line is too long."""
        b = len(texts)
        present = texts >= 0
        left = -self.glyphs.left[chosen.clamp(min=0)]
        right = self.glyphs.right[chosen.clamp(min=0)]
        gaps = (shape["gap"][:, None] + 0.08 * shape["loose"][:, None] * self._n(b, MOST)) * HIGH_PX
        gaps = torch.maximum(gaps, shape["least_gap"][:, None])
        pitch = shape["pitch"][:, None] * HIGH_PX
        mono = (shape["is_mono"] > 0)[:, None]
        before = torch.where(mono, pitch / 2, left + gaps / 2)
        after = torch.where(mono, pitch / 2, right + gaps / 2)
        wide = shape["group_gap"][:, None]
        wide = torch.where(is_words[:, None], wide.clamp(min=0.3), wide) * HIGH_PX
        wide = wide * (1 + 0.2 * self._n(b, MOST))
        before = before + torch.where(starts, wide.clamp(min=0), 0.0)
        steps = torch.where(present, before + after, 0.0)
        ends = steps.cumsum(1)
        middle = ends - torch.where(present, after, 0.0)
        scale = shape["high"] / HIGH_PX
        total = ends[:, -1] * scale
        most = self._u(b, low=WIDE * 0.8, high=WIDE * 0.955)
        shape["aspect"] = torch.minimum(shape["aspect"], most / total.clamp(min=1.0))
        shape["cell"] = shape["cell"] * pitch[:, 0] * scale * shape["aspect"]
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
        y = y + HIGH / 2 + shape["off"][:, None]
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

    def _clutter(self, ink: torch.Tensor, high: torch.Tensor) -> None:
        """A caption or a neighbor's text along the upper or lower edge or both, and bars."""
        for share in (0.3, 0.12):
            some = (self._u(len(high)) < share).nonzero()[:, 0]
            if len(some):
                self._beside(ink, some, high[some])

    def _beside(self, ink: torch.Tensor, some: torch.Tensor, high: torch.Tensor) -> None:
        b = len(some)
        hands = self.pools[3][self._i(len(self.pools[3]), b)][:, None].expand(b, CLUTTER)
        words, starts = self._words(b, CLUTTER)
        texts = torch.where(self._u(b, 1) < 0.4, self._i(len(CHARACTERS), b, CLUTTER), words)
        chosen = pick(self.glyphs, hands, texts.clamp(min=0), self.rng)
        chosen = torch.where(texts < 0, -1, chosen)
        small = self._u(b, low=9, high=24)
        shape = {
            "high": small,
            "aspect": self._u(b, low=0.8, high=1.1),
            "slant": torch.zeros(b, device=self.device),
            "thick": self._u(b, low=-1.0, high=0.5),
            "loose": torch.zeros(b, device=self.device),
        }
        steps = torch.arange(CLUTTER, device=self.device) + 0.6 * starts.cumsum(1)
        x = self._u(b, 1, low=-50, high=WIDE - 200)
        x = x + steps * small[:, None] * self._u(b, 1, low=0.6, high=0.9)
        outside = (HIGH / 2 + high / 2 + small * self._u(b, low=0.3, high=0.9)).clamp(max=HIGH + 8)
        above = self._u(b) < 0.5
        y = torch.where(above, HIGH - outside, outside)[:, None].expand(b, CLUTTER)
        printed = torch.full((b,), 3, device=self.device)
        drawn = self._drawn(chosen, (chosen >= 0) & (x < WIDE + 20), x, y, shape, printed)
        ink[some] = torch.maximum(ink[some], torch.maximum(drawn, self._bars(b, high)))


def spelled(texts: torch.Tensor) -> list[str]:
    """The texts of a batch."""
    return ["".join(DRAWN[c] for c in row if c >= 0) for row in texts.tolist()]

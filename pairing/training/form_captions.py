"""What is written on a form that is no number: captions, titles, addresses, names, dates."""

from __future__ import annotations

import torch

from pairing.training.character_sources import CHARACTERS, DRAWN
from pairing.training.marks import Marks

UPPER, LOWER, MARK = 10, len(CHARACTERS), len(CHARACTERS) + 26
"""Where capitals, small letters and punctuation begin in DRAWN."""
_MARKS = len(DRAWN) - MARK
_STYLES = (0.25, 0.3, 0.25, 0.2)
"""Shares of lines in capitals, in small letters, in words with a capital, of dates and amounts.
Common practice, no source."""


class Words(Marks):
    """Draws the texts of lines that are no number."""

    def _words(self, b: int, most: int) -> tuple[torch.Tensor, torch.Tensor]:
        """(b, most) places in DRAWN, and where a word begins."""
        at = torch.arange(most, device=self.device)
        starts = (self._u(b, most) < self._u(b, 1, low=0.1, high=0.3)) | (at == 0)
        shares = torch.tensor(_STYLES, device=self.device)
        style = torch.multinomial(shares, b, replacement=True, generator=self.rng)[:, None]
        upper, lower = UPPER + self._i(26, b, most), LOWER + self._i(26, b, most)
        is_upper = (style == 0) | ((style == 2) & starts)
        texts = torch.where(is_upper, upper, lower)
        # An address or a title has numbers among its words.
        word = starts.cumsum(1)
        is_digits = self._u(b, most).gather(1, word.clamp(max=most - 1)) < 0.35
        is_digits = is_digits & (self._u(b, 1) < 0.35) & (word > 1)
        digits = self._i(10, b, most)
        texts = torch.where(is_digits, digits, texts)
        marks = MARK + self._i(_MARKS, b, most)
        texts = torch.where((self._u(b, most) < 0.04) & (at > 0), marks, texts)
        # Dates, amounts, telephone numbers: digits with something between them.
        every = 2 + self._i(3, b, 1)
        sign = MARK + self._i(_MARKS, b, 1)
        is_sign = (at % every == every - 1) | (self._u(b, most) < 0.1)
        dates = torch.where(is_sign, torch.where(self._u(b, 1) < 0.7, sign, marks), digits)
        dates = torch.where(at < 3 + self._i(12, b, 1), dates, -1)
        return torch.where(style == 3, dates, texts), starts & (at > 0)

    def _word_lengths(self, b: int, most: int) -> torch.Tensor:
        """Characters in a line: a caption's many or a name's few."""
        return torch.where(
            self._u(b) < 0.5, 3 + self._i(14, b), (10 + self._i(most - 9, b)).clamp(max=most)
        )

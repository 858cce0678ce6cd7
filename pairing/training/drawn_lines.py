"""A batch of lines as they were drawn, and what is known of each."""

from __future__ import annotations

from dataclasses import dataclass

import torch


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """ink: (b, HIGH, WIDE) 0..1. texts: (b, MOST) characters, -1 beyond the end; a line that
    is no number has none. digit_px: (b,) height of the digits. ends: (b, 2) first and last
    column of the line. is_print: (b,). cell_px: (b,) width of the cells of a comb, or 0.
    what: (b,) places in LINE_KINDS, or UNTOLD. is_text: (b,) whether `texts` is what is to be
    read: not where what counts is in doubt. spoiled: (b, STEPS) 1 where a character is struck out
    or written over, 0 where none is, -1 where that is not told."""

    ink: torch.Tensor
    texts: torch.Tensor
    digit_px: torch.Tensor
    ends: torch.Tensor
    is_print: torch.Tensor
    cell_px: torch.Tensor
    what: torch.Tensor
    is_text: torch.Tensor
    spoiled: torch.Tensor

"""How well texts were read."""

from __future__ import annotations

from collections.abc import Sequence

import torch

from pairing.training.character_sources import CHARACTERS
from pairing.training.evaluation_texts import distance


def accuracy(right: Sequence[str], read: Sequence[str]) -> float:
    """One less the edits for each character that is there."""
    edits = sum(distance(a, b) for a, b in zip(right, read, strict=True))
    return 1 - edits / max(1, sum(map(len, right)))


def greedy(chances: torch.Tensor) -> list[str]:
    """The best path's text for each of (n, steps, classes) log probabilities."""
    texts = []
    for path in chances.argmax(2).tolist():
        kept = [c for c, before in zip(path, [0, *path], strict=False) if c and c != before]
        texts.append("".join(CHARACTERS[c - 1] for c in kept))
    return texts

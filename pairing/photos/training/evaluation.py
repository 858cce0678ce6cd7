"""How well texts were read."""

from __future__ import annotations

from collections.abc import Sequence


def distance(a: str, b: str) -> int:
    """Levenshtein's distance."""
    row = list(range(len(b) + 1))
    for i, x in enumerate(a, 1):
        above, row = row, [i]
        for j, y in enumerate(b, 1):
            row.append(min(above[j - 1] + (x != y), above[j] + 1, row[j - 1] + 1))
    return row[-1]


def accuracy(right: Sequence[str], read: Sequence[str]) -> float:
    """One less the edits for each character that stands there."""
    edits = sum(distance(a, b) for a, b in zip(right, read, strict=True))
    return 1 - edits / max(1, sum(map(len, right)))

"""Which numbers were given out and may still be on a screen. The box is read blind: before a
label's number is wanted from the box, it must not be there to be copied."""

from __future__ import annotations

import re
from collections.abc import Iterable

_MOST = 4_096
"""Numbers remembered; a scrollback of some thousand lines holds fewer."""

_PRINTED = re.compile(r"[A-Z]{2} ?(?:\d ?){9}[A-Z]{2}|(?:\d ?){12,33}\d")
"""An S10 number, or as many digits as an article number has, routing prefix and all, in
printed groups or not."""


class OnScreen:
    """The numbers, oldest first."""

    def __init__(self) -> None:
        self._numbers: dict[str, None] = {}

    def add(self, texts: Iterable[str]) -> None:
        """Take every number in these texts."""
        for text in texts:
            for found in _PRINTED.findall(text.upper()):
                self._numbers[found.replace(" ", "")] = None
        while len(self._numbers) > _MOST:
            del self._numbers[next(iter(self._numbers))]

    def has(self, number: str) -> bool:
        """Whether the number, or one that contains it, was given out."""
        return any(number in one for one in self._numbers)

    def clear(self) -> None:
        """The screen was wiped."""
        self._numbers.clear()

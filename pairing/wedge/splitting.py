"""Two scans that ran together because the scanner sends no terminator."""

from __future__ import annotations

import re
from functools import cache

from pairing.findings import Weight
from pairing.model import GS, Role, TrackingNumber
from pairing.numbers import identify

_SHORTEST, _LONGEST = 13, 41
"""An S10 identifier; 420, nine digits, GS and 26 digits (with one to spare)."""

_NEXT_PREFIX = re.compile(r"(?<=.)(?=\][A-Za-z][0-9A-Za-z])", re.DOTALL)


def at_prefixes(text: str) -> tuple[str, ...]:
    """`text` cut in front of every symbology identifier inside it."""
    return tuple(_NEXT_PREFIX.split(text))


def into_numbers(text: str, *, most: int = 4) -> tuple[str, ...] | None:
    """`text` (compacted, without identifier) cut into whole article and card numbers.

    None where it cannot be cut so, or can be cut in more than one way: then nothing tells
    which is right. At most `most` numbers.
    """

    @cache
    def cuts(start: int, left: int) -> tuple[tuple[str, ...], ...]:
        if start == len(text):
            return ((),)
        if not left:
            return ()
        return tuple(
            (piece, *rest)
            for end in range(start + _SHORTEST, min(len(text), start + _LONGEST) + 1)
            if _is_whole(piece := text[start:end])
            for rest in cuts(end, left - 1)
        )

    if len(text) > most * _LONGEST:
        return None
    found = [cut for cut in cuts(0, most) if len(cut) > 1]
    return found.pop() if len(found) == 1 else None


def half(text: str) -> str | None:
    """The half of a text that says the same thing twice, or None."""
    middle, odd = divmod(len(text), 2)
    same = not odd and middle >= _SHORTEST and text[:middle] == text[middle:]
    return text[:middle] if same else None


def _is_whole(piece: str) -> bool:
    number = identify(piece.strip(GS))
    return (
        isinstance(number, TrackingNumber)
        and number.role in (Role.ARTICLE, Role.CARD)
        and not any(finding.weight is Weight.DOUBT for finding in number.findings)
    )

"""Cleaning what was read, and the printed grouping.

Nothing here decides whether a number is good.
"""

from __future__ import annotations

import unicodedata

from stdnum.util import clean

SEPARATORS = " -.,/:_()\t\r\n"
"""Characters that people and printers put between groups. Common practice, no source."""


def compact(text: str) -> str:
    """Upper case, ASCII digits, no separators; every other character is kept.

    Full-width and other Unicode decimal digits become ASCII ones, since they are
    the same digits typed in another way. GS (0x1D) is kept: it ends a GS1 field.
    Never raises.
    """
    folded = "".join(_ascii_digit(char) for char in unicodedata.normalize("NFKC", text))
    return str(clean(folded, SEPARATORS)).strip(" \v\f").upper()


def _ascii_digit(char: str) -> str:
    value = unicodedata.decimal(char, None)
    return char if value is None else str(value)


def is_digits(text: str) -> bool:
    """True for one or more ASCII digits and nothing else."""
    return text.isascii() and text.isdigit()


def positions_not_digits(text: str) -> tuple[int, ...]:
    """1-based positions of the characters that are no ASCII digits."""
    return tuple(place for place, char in enumerate(text, 1) if not is_digits(char))

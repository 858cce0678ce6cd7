"""Cleaning what was read. Nothing here decides whether a number is good."""

from __future__ import annotations

import unicodedata

_DROPPED = frozenset("()\t\r\n")
"""The brackets that printers put around application identifiers, and line ends."""

_ASCII_DROPPED = dict.fromkeys(map(ord, (*_DROPPED, *" -")))

_DROPPED_CATEGORIES = frozenset(("Zs", "Pd", "Cf"))
"""Unicode general categories of what parts printed groups or cannot be seen at all: blanks,
dashes, format characters. Every other character is kept: it may be in place of a digit that
somebody could not read."""

_FULL_WIDTH = range(0xFF01, 0xFF5F)
"""Unicode's full-width forms of ASCII 0x21 to 0x7E, in the same order."""

FEWEST_DIGITS = 6
"""A text with fewer digits is no number at all: half of the shortest family's digits, so that
a name with a house number is not taken for one. Common practice, no source."""


def compact(text: str) -> str:
    """Upper case, ASCII digits, no blanks, dashes or brackets; the rest is kept.

    Decimal digits of any script become ASCII ones, since they are the same digits typed in
    another way; nothing else is folded (`½` is no 1 and 2). GS (0x1D) is kept: it ends a GS1
    field. Never raises.
    """
    if text.isascii():
        return text.translate(_ASCII_DROPPED).upper()
    return "".join(map(_plain, text)).upper()


def _plain(char: str) -> str:
    if char.isascii():
        return "" if char in _DROPPED or char in " -" else char
    value = unicodedata.decimal(char, None)
    if value is not None:
        return str(value)
    if ord(char) in _FULL_WIDTH:
        return _plain(chr(ord(char) - _FULL_WIDTH.start + 0x21))
    return "" if unicodedata.category(char) in _DROPPED_CATEGORIES else char


def is_digits(text: str) -> bool:
    """True for one or more ASCII digits and nothing else."""
    return text.isascii() and text.isdecimal()


def count_digits(text: str) -> int:
    """How many ASCII digits there are in `text`."""
    return sum(map(is_digits, text))


def positions_not_digits(text: str) -> tuple[int, ...]:
    """1-based positions of the characters that are no ASCII digits."""
    return tuple(place for place, char in enumerate(text, 1) if not is_digits(char))

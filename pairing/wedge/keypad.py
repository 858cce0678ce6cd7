"""Characters that a scanner types as Alt and keypad digits.

Some scanners hold Alt and type a character's code on the keypad, GS as `029`. A reader
that sees the keypad digits alone would take them for digits of the number.
"""

from __future__ import annotations

from pairing.model import GS
from pairing.numbers.text import is_digits

GS_CODE = "029"
"""GS as Alt+keypad: observed with a scanner on Linux (standards handbook section 7)."""

FEWEST_CODES = 13
"""The shortest number (S10) has 13 characters."""


def is_typed(char: str) -> bool:
    """Whether a scanner of numbers would send `char` at all."""
    return char == GS or (char.isascii() and char.isalnum()) or char in " ]-\r\n\t"


def from_codes(digits: str) -> str | None:
    """The text behind a line made of three-digit codes alone, or None.

    >>> from_codes("083073080045052045049" * 2)
    'SIP-4-1SIP-4-1'
    """
    if len(digits) % 3 or len(digits) < 3 * FEWEST_CODES or not is_digits(digits):
        return None
    chars = [chr(int(digits[start : start + 3])) for start in range(0, len(digits), 3)]
    return "".join(chars) if all(map(is_typed, chars)) else None


def with_separators(digits: str) -> tuple[str, ...]:
    """Every reading of `digits` in which a `029` is a group separator.

    That can be at the very beginning (the symbol's leading FNC1) and behind a routing
    prefix of 5 or 9 digits; nowhere else do these numbers have a separator.
    """
    starts = {digits, digits.removeprefix(GS_CODE)}
    readings = [start for start in starts if start != digits]
    for start in starts:
        for end in (8, 12):
            if start.startswith("420") and start[end:].startswith(GS_CODE):
                readings.append(start[:end] + GS + start[end + len(GS_CODE) :])
    return tuple(sorted(readings))

"""Numbers of the ledger that are one slip away from one that it does not know.

They are hints for a person who looks at the card again; nothing is ever taken for another.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pairing.compare import Comparison, compare
from pairing.ledger import Ledger, Piece
from pairing.numbers import group_sizes, is_number
from pairing.numbers.text import is_digits

_DIGITS = "0123456789"
_LONGEST = 40
"""Longer texts are no numbers (26 characters) with a slip in them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Near:
    """A piece whose number is one slip away. number: its number, on card or label.
    comparison: that number against what was read."""

    piece: Piece
    number: str
    comparison: Comparison


def near(ledger: Ledger, text: str) -> tuple[Near, ...]:
    """The ledger's pieces with a number that is one slip away from `text`, in order.

    A slip: one digit differs, is missing or is too many; two digits are swapped that are
    next to each other or around a third (Verhoeff's commonest, handbook 6.1). Raises
    LedgerUnusable.
    """
    if not text or len(text) > _LONGEST:
        return ()
    # What the ledger accepted is always a valid number.
    wanted = {slip for slip in _slips(text) if slip != text and is_number(slip)}
    found = []
    for piece in ledger.bearing(sorted(wanted)):
        for number in (piece.card, piece.article):
            if number in wanted and number is not None:
                found.append(Near(piece=piece, number=number, comparison=_compared(number, text)))
    return tuple(found)


def _slips(text: str) -> Iterator[str]:
    for place, char in enumerate(text):
        if is_digits(char):
            yield from (text[:place] + digit + text[place + 1 :] for digit in _DIGITS)
        yield text[:place] + text[place + 1 :]
    for place in range(len(text) + 1):
        yield from (text[:place] + digit + text[place:] for digit in _DIGITS)
    for gap in (1, 2):
        for place in range(len(text) - gap):
            other = place + gap
            yield (
                text[:place]
                + text[other]
                + text[place + 1 : other]
                + text[place]
                + text[other + 1 :]
            )


def _compared(number: str, text: str) -> Comparison:
    return compare(number, text, group_sizes=group_sizes(number), is_valid=is_number)

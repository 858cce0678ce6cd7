"""Which pieces: every so-manyth from a random start, or by their value.

All randomness is SHA-256 of the seed, a colon and a word, as a fraction of 2^256: whoever has seed
and list draws the same again, in any language.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from decimal import Decimal, InvalidOperation
from fractions import Fraction

from pairing.errors import NotCalculable, TableUnusable

_LONGEST = 30
"""Digits before or after a value's point. `1e999999999` is a number too, and a fraction of it fills
the memory."""


def chance(seed: str, word: str) -> Fraction:
    """A number in [0, 1) that the seed fixes."""
    digest = hashlib.sha256(f"{seed}:{word}".encode()).digest()
    return Fraction(int.from_bytes(digest), 1 << 256)


def systematic(names: Iterable[str], *, lot: int, size: int, seed: str) -> tuple[str, ...]:
    """Every lot/size-th piece from a random start ("start" is the word for `chance`): each is
    as likely as any other, but two neighbors never come together. names: `lot` of them."""
    if not 0 < size <= lot:
        raise NotCalculable("No such sample", where=(size, lot), remedy="Give 1 to all pieces.")
    step, start = Fraction(lot, size), chance(seed, "start")
    wanted = ((start + number) * step for number in range(size))
    return tuple(_at((int(one) for one in wanted), enumerate(names)))


def _at(places: Iterator[int], numbered: Iterable[tuple[int, str]]) -> Iterator[str]:
    due = next(places, None)
    for number, name in numbered:
        if due is None:
            return
        if number == due:
            yield name
            due = next(places, None)


def by_value(
    valued: Iterable[tuple[str, Fraction]], *, total: Fraction, size: int, seed: str
) -> dict[str, int]:
    """Monetary unit selection: the lot's value is cut into `size` equal cells, in each one point
    is chosen by chance (the word for `chance` is "cell 0", "cell 1", ...), and the piece whose
    value covers it is drawn. The pieces drawn, each with the points on it; a piece without value
    is never drawn.

    One point in each cell makes the points independent, so that the bad ones among them can be
    bounded (`strata` says by what theorem). Cells: Leslie, Teitlebaum and Anderson, Dollar-Unit
    Sampling, 1979 (from memory). valued: names with values; total: their sum.
    """
    if total <= 0 or size < 1:
        raise NotCalculable(
            "There is no value to draw from", where=float(total), remedy="Give values above 0."
        )
    cell = total / size
    found: dict[str, int] = {}
    number, below = 0, Fraction(0)
    point = chance(seed, "cell 0") * cell
    for name, value in valued:
        below += value
        while number < size and point < below:
            found[name] = found.get(name, 0) + 1
            number += 1
            point = (number + chance(seed, f"cell {number}")) * cell
    return found


def value_of(text: str, *, where: object) -> Fraction:
    """A piece's value as written, "1,250.00" or "12.5"; empty is 0. Raises TableUnusable for
    what is no number, and for less than nothing."""
    bare = text.strip().lstrip("$").replace(",", "")
    try:
        value = Decimal(bare or "0")
        if not value.is_finite() or value < 0 or not -_LONGEST <= value.adjusted() <= _LONGEST:
            raise InvalidOperation  # noqa: TRY301 - worded below
        return Fraction(value)
    except InvalidOperation as error:
        raise TableUnusable(
            f"This is not a value of a piece: {text!r}",
            where=str(where),
            remedy="Give 0 or more, with a point before the cents; settle what is negative first.",
        ) from error

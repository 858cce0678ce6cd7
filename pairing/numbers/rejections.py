"""The wording of refusals, so that every family says the same thing alike."""

from __future__ import annotations

from pairing.model import Family, Rejection
from pairing.numbers import checkdigit
from pairing.numbers import text as texts

READ_AGAIN = "Read the number again from the item itself."


def wrong_length(given: str, compacted: str, family: Family) -> Rejection:
    """Too few or too many characters for the family."""
    wanted = " or ".join(str(length) for length in family.lengths)
    return Rejection(
        given=given,
        text=compacted,
        code="length",
        message=f"{len(compacted)} characters where a {family.title} has {wanted}.",
        action=READ_AGAIN,
        likely=family.name,
    )


def not_digits(given: str, compacted: str, family: Family) -> Rejection:
    """Characters other than digits, with their places."""
    places = texts.positions_not_digits(compacted)
    shown = ", ".join(f"{compacted[place - 1]!r} at {place}" for place in places[:4])
    more = f" and {len(places) - 4} more" if len(places) > 4 else ""
    return Rejection(
        given=given,
        text=compacted,
        code="not-digits",
        message=f"A {family.title} has digits only; found {shown}{more}.",
        action=READ_AGAIN,
        positions=places,
        likely=family.name,
    )


def wrong_check_digit(
    given: str, compacted: str, family: Family, wanted: str, *, because: str = ""
) -> Rejection:
    """The position named is that of the check digit, though any digit may be the wrong one."""
    place = len(compacted) if not compacted[-1:].isalpha() else len(compacted) - 2
    found = compacted[place - 1]
    return Rejection(
        given=given,
        text=compacted,
        code="check-digit",
        message=(
            f"The check digit is {found} where the digits before it give {wanted}{because}: "
            f"at least one digit of this {family.title} is wrong."
        ),
        action=READ_AGAIN,
        positions=(place,),
        likely=family.name,
    )


def wrong_prefix(given: str, compacted: str, family: Family, wanted: str) -> Rejection:
    """Another beginning than the family's. wanted: that beginning in words."""
    return Rejection(
        given=given,
        text=compacted,
        code="prefix",
        message=f"A {family.title} begins with {wanted}; this begins with {compacted[:4]}.",
        action=READ_AGAIN,
        positions=tuple(range(1, min(4, len(compacted)) + 1)),
        likely=family.name,
    )


def mod10_faults(
    given: str, compacted: str, family: Family, *, prefixes: tuple[str, ...], begins: str = ""
) -> Rejection | None:
    """What is wrong with an all-digit number whose last digit is a plain mod-10 check digit.

    prefixes: one of them must begin it. begins: those prefixes in words.
    """
    if not texts.is_digits(compacted):
        return not_digits(given, compacted, family)
    if len(compacted) not in family.lengths:
        return wrong_length(given, compacted, family)
    if not compacted.startswith(prefixes):
        return wrong_prefix(given, compacted, family, begins)
    wanted = checkdigit.mod10(compacted[:-1])
    if wanted != compacted[-1]:
        return wrong_check_digit(given, compacted, family, wanted)
    return None

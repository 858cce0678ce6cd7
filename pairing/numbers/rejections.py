"""Refusals, so that every family refuses alike."""

from __future__ import annotations

from pairing.findings import Code, Finding
from pairing.model import Family, Rejection
from pairing.numbers import checkdigit
from pairing.numbers import text as texts


def wrong_length(given: str, compacted: str, family: Family) -> Rejection:
    """Too few or too many characters for the family."""
    reason = Finding.of(
        Code.LENGTH, length=len(compacted), title=family.title, wanted=family.lengths
    )
    return Rejection(given=given, text=compacted, reason=reason, likely=family.name)


def not_digits(given: str, compacted: str, family: Family) -> Rejection:
    """Characters other than digits, with their places."""
    places = texts.positions_not_digits(compacted)
    reason = Finding.of(
        Code.NOT_DIGITS,
        positions=places,
        title=family.title,
        characters="".join(compacted[place - 1] for place in places),
    )
    return Rejection(given=given, text=compacted, reason=reason, likely=family.name)


def wrong_check_digit(  # noqa: PLR0913 - what was read, what it should be, and by which rule
    given: str,
    compacted: str,
    family: Family,
    wanted: str,
    *,
    with_91: str | None = None,
    convention: str | None = None,
) -> Rejection:
    """The position named is that of the check digit, though any digit may be the wrong one.

    with_91, convention: as `findings.PARAMETERS` has them.
    """
    place = len(compacted) if not compacted[-1:].isalpha() else len(compacted) - 2
    reason = Finding.of(
        Code.CHECK_DIGIT,
        positions=(place,),
        title=family.title,
        found=compacted[place - 1],
        wanted=wanted,
        with_91=with_91,
        convention=convention,
    )
    return Rejection(given=given, text=compacted, reason=reason, likely=family.name)


def wrong_prefix(given: str, compacted: str, family: Family, wanted: tuple[str, ...]) -> Rejection:
    """Another beginning than the family's, which begins with one of `wanted`."""
    reason = Finding.of(
        Code.PREFIX,
        positions=tuple(range(1, min(4, len(compacted)) + 1)),
        title=family.title,
        wanted=wanted,
        found=compacted[:4],
    )
    return Rejection(given=given, text=compacted, reason=reason, likely=family.name)


def mod10_faults(
    given: str, compacted: str, family: Family, *, prefixes: tuple[str, ...]
) -> Rejection | None:
    """What is wrong with an all-digit number whose last digit is a plain mod-10 check digit.

    prefixes: one of them must begin it.
    """
    if not texts.is_digits(compacted):
        return not_digits(given, compacted, family)
    if len(compacted) not in family.lengths:
        return wrong_length(given, compacted, family)
    if not compacted.startswith(prefixes):
        return wrong_prefix(given, compacted, family, prefixes)
    wanted = checkdigit.mod10(compacted[:-1])
    if wanted != compacted[-1]:
        return wrong_check_digit(given, compacted, family, wanted)
    return None

"""Routing prefix: application identifier 420 and a postal code of 5 or 9 digits.

On its own it is a number of role `routing`; in front of a package identification code
it is separated from it.

>>> validate("420 94043").routing
'94043'

The group separator between the two is mandatory in the bars (420 is of variable length,
GS1 General Specifications) and is often lost on the way. Then 34 digits can be
420 + 9 + 22 or 420 + 5 + 26, and only channel prefix *and* check digit together can
tell; where both splits hold, the reading is ambiguous and nothing is chosen.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from pairing.findings import Code, Finding
from pairing.model import GS, CheckRule, Family, Number, Part, Rejection, Role, TrackingNumber
from pairing.numbers import rejections
from pairing.numbers import text as texts

FAMILY = Family(
    name="routing",
    title="routing code",
    role=Role.ROUTING,
    lengths=(8, 12),
    group_sizes=(3, 5, 4),
    check_rule=CheckRule.NONE,
    source="GS1 General Specifications, AI 420; Parcel Labeling Guide v2.0 (2014) 5.1.1",
)

PREFIX = "420"
POSTAL_CODE_LENGTHS = (5, 9)


def compact(number: str) -> str:
    """The code without separators and without a leading or closing group separator."""
    return texts.compact(number).strip(GS)


def calc_check_digit(number: str) -> str:
    """Always "": AI 420 carries no check digit."""
    return ""


def validate(number: str) -> Number:
    """420 and a postal code alone, or what is wrong with it. Never raises."""
    text = compact(number)
    if not texts.is_digits(text):
        return rejections.not_digits(number, text, FAMILY)
    if not text.startswith(PREFIX):
        return rejections.wrong_prefix(number, text, FAMILY, (PREFIX,))
    if len(text) not in FAMILY.lengths:
        return rejections.wrong_length(number, text, FAMILY)
    return TrackingNumber(
        family=FAMILY,
        text=text,
        parts=(
            Part(name="application identifier", text=PREFIX, start=0),
            Part(name="postal code", text=text[3:], start=3),
        ),
        role=Role.ROUTING,
        check_rule=CheckRule.NONE,
        given=number,
        routing=text[3:],
    )


def is_valid(number: str) -> bool:
    return isinstance(validate(number), TrackingNumber)


def format(number: str) -> str:
    """`420 94043` or `420 10023 3424`."""
    text = compact(number)
    return " ".join(part for part in (text[:3], text[3:8], text[8:]) if part)


def splits(text: str) -> tuple[tuple[str, str], ...]:
    """Every (postal code, remainder) that `text` could be by its length and separators.

    text: compacted. Empty where there is no routing prefix or nothing behind it.
    """
    text = text.strip(GS)
    if not text.startswith(PREFIX):
        return ()
    if GS in text:
        code, _, rest = text[3:].partition(GS)
        return ((code, rest),) if len(code) in POSTAL_CODE_LENGTHS else ()
    return tuple(
        (text[3 : 3 + length], text[3 + length :])
        for length in POSTAL_CODE_LENGTHS
        if len(text) - 3 - length in (22, 26)
    )


def resolve(given: str, text: str, validate_bare: Callable[[str], Number]) -> Number:
    """Part a routing prefix from `text` and validate the remainder; without one, `text` itself.

    validate_bare: judges a remainder. Never guesses: where two splits hold, a
    Rejection of code "ambiguous" names both.
    """
    found = [(code, validate_bare(rest)) for code, rest in splits(text)]
    if not found:
        return validate_bare(given)
    good = [
        replace(number, routing=code, given=given)
        for code, number in found
        if isinstance(number, TrackingNumber)
    ]
    if len(good) == 1:
        return good.pop()
    if good:
        reason = Finding.of(
            Code.AMBIGUOUS,
            routings=tuple(number.routing for number in good),
            numbers=tuple(number.text for number in good),
        )
        return Rejection(given=given, text=text, reason=reason, likely="package")
    # Nothing holds: the reason given is that of the split whose remainder at least
    # begins like a package code, since that is what a reader would look at.
    number = next(
        (n for _, n in found if isinstance(n, Rejection) and n.code is not Code.PREFIX), None
    )
    chosen = number or found[0][1]
    assert isinstance(chosen, Rejection)
    return replace(chosen, given=given)

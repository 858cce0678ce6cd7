"""GS1 serial shipping container code: 18 digits, also behind application identifier 00.

>>> validate("(00) 3 9512345 123456789 5").text
'395123451234567895'

It names a shipping unit. A card's box never asks for it, so its role is `other`.
"""

from __future__ import annotations

from pairing.model import CheckRule, Family, Number, Part, Role, TrackingNumber
from pairing.numbers import checkdigit, grouping, rejections
from pairing.numbers import text as texts

FAMILY = Family(
    name="sscc",
    title="serial shipping container code",
    role=Role.OTHER,
    lengths=(18,),
    group_sizes=(4,),
    check_rule=CheckRule.MOD10,
    source="GS1 General Specifications, AI 00 and 7.9.1",
)

AI00 = "00"


def compact(number: str) -> str:
    """18 digits; a leading application identifier 00 (20 digits) is taken off."""
    text = texts.compact(number)
    return text[2:] if len(text) == 20 and text.startswith(AI00) else text


def calc_check_digit(number: str) -> str:
    """The check digit over 17 digits."""
    return checkdigit.mod10(compact(number))


def validate(number: str) -> Number:
    """The code with its parts, or what is wrong with it. Never raises."""
    text = compact(number)
    fault = rejections.mod10_faults(number, text, FAMILY, prefixes=("",))
    return fault or TrackingNumber(
        family=FAMILY,
        text=text,
        parts=(
            Part(name="extension digit", text=text[0], start=0),
            Part(name="company prefix and serial", text=text[1:-1], start=1),
            Part(name="check digit", text=text[-1], start=17),
        ),
        role=FAMILY.role,
        check_rule=FAMILY.check_rule,
        given=number,
    )


def is_valid(number: str) -> bool:
    return isinstance(validate(number), TrackingNumber)


def format(number: str) -> str:
    """In groups of four. Common practice, no source: GS1 prescribes no grouping."""
    return grouping.spaced(compact(number), FAMILY.group_sizes)

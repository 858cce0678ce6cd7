"""Pre-printed label of 22 digits, family 9589 07: an article number from the pad.

>>> is_valid("9374890100000003985039")
False

Seen in public records only (nine numbers, eight of which pass mod-10); no document was
found, so its structure is inferred. It is a plain serial: the digits where a retail
number's day would be exceed 366.
"""

from __future__ import annotations

from pairing.model import CheckRule, Family, Number, Role, TrackingNumber
from pairing.numbers import checkdigit, grouping, parts, rejections
from pairing.numbers import text as texts

FAMILY = Family(
    name="label22",
    title="22-digit pre-printed label number",
    role=Role.ARTICLE,
    lengths=(22,),
    group_sizes=(4,),
    check_rule=CheckRule.MOD10,
    source="inferred from public records (prefix 9589 07); no document found",
)

PREFIX = "958907"


def compact(number: str) -> str:
    return texts.compact(number)


def calc_check_digit(number: str) -> str:
    """The check digit over 21 digits."""
    return checkdigit.mod10(compact(number))


def validate(number: str) -> Number:
    """The number with its parts, or what is wrong with it. Never raises."""
    text = compact(number)
    fault = rejections.mod10_faults(number, text, FAMILY, prefixes=(PREFIX,))
    return fault or TrackingNumber(
        family=FAMILY,
        text=text,
        parts=parts.cut(text, (("label family", 6),), rest="serial"),
        role=FAMILY.role,
        check_rule=FAMILY.check_rule,
        given=number,
    )


def is_valid(number: str) -> bool:
    return isinstance(validate(number), TrackingNumber)


def format(number: str) -> str:
    """In the printed groups of four."""
    return grouping.spaced(compact(number), FAMILY.group_sizes)

"""The return-receipt card's own number: 22 digits, 9590 94 and its relatives.

>>> validate("9590 9402 5878 0038 2311 51").role.value
'card'

It tracks the card on its way back and must never be written in the card's box. Length and
check digit do not tell it from a label's number; the prefix does.
"""

from __future__ import annotations

from pairing.findings import Code, Finding
from pairing.model import CheckRule, Family, Number, Role, TrackingNumber
from pairing.numbers import checkdigit, grouping, parts, rejections
from pairing.numbers import text as texts

FAMILY = Family(
    name="card22",
    title="return-receipt card number",
    role=Role.CARD,
    lengths=(22,),
    group_sizes=(4,),
    check_rule=CheckRule.MOD10,
    source="NC DEQ public record NOV-2020-DV-0495 (card reverse); prefix seen, no document found",
)

PREFIX = "9590"
USUAL_PREFIX = "959094"


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
        parts=parts.cut(text, (("card family", 6),), rest="serial"),
        role=FAMILY.role,
        check_rule=FAMILY.check_rule,
        given=number,
        findings=_findings(text),
    )


def is_valid(number: str) -> bool:
    return isinstance(validate(number), TrackingNumber)


def format(number: str) -> str:
    """In the printed groups of four."""
    return grouping.spaced(compact(number), FAMILY.group_sizes)


def _findings(text: str) -> tuple[Finding, ...]:
    if text.startswith(USUAL_PREFIX):
        return ()
    # From memory: privately printed cards use other digits behind 9590.
    return (Finding.of(Code.CARD_PREFIX_UNUSUAL, positions=(5, 6), digits=text[4:6]),)

"""UPU S10 item identifier: two letters, eight digits, a check digit, two letters.

>>> validate("EE 876 543 216 CA").text
'EE876543216CA'
>>> validate("AB123456789AB").message
'The check digit is 9 where the digits before it give 5: at least one digit of this S10 item \
identifier is wrong.'
"""

from __future__ import annotations

import re

from pairing.findings import Code, Finding, Weight
from pairing.model import CheckRule, Family, Number, Part, Rejection, Role, TrackingNumber
from pairing.numbers import checkdigit, grouping, rejections
from pairing.numbers import text as texts

FAMILY = Family(
    name="s10",
    title="S10 item identifier",
    role=Role.ARTICLE,
    lengths=(13,),
    group_sizes=(2, 3, 3, 3, 2),
    check_rule=CheckRule.S10_MOD11,
    source="UPU S10-12 (check digit; Annex A; section 8 for the grouping)",
)

_SHAPE = re.compile(r"[A-Z]{2}[0-9]{9}[A-Z]{2}", re.ASCII)

SERVICES = {
    "A": "domestic or bilateral",
    "B": "domestic or bilateral",
    "C": "parcel",
    "D": "domestic or bilateral",
    "E": "express",
    "G": "domestic or bilateral",
    "H": "electronic-commerce parcel",
    "L": "express letter",
    "M": "M bag",
    "N": "domestic or bilateral",
    "P": "domestic or bilateral",
    "Q": "business reply",
    "R": "registered",
    "U": "letter post, other",
    "V": "insured",
    "Z": "domestic or bilateral",
}
"""First letter of the service indicator, UPU S10 as of October 2017; the other letters are
reserved or unallocated. It only describes and warns."""


def compact(number: str) -> str:
    return texts.compact(number)


def calc_check_digit(number: str) -> str:
    """The check digit over the eight serial digits (with or without the letters around them)."""
    return checkdigit.s10("".join(char for char in compact(number) if texts.is_digits(char))[:8])


def validate(number: str) -> Number:
    """The identifier with its parts, or what is wrong with it. Never raises."""
    text = compact(number)
    if len(text) not in FAMILY.lengths:
        return rejections.wrong_length(number, text, FAMILY)
    if not _SHAPE.fullmatch(text):
        return _wrong_shape(number, text)
    wanted = calc_check_digit(text)
    if wanted != text[10]:
        return rejections.wrong_check_digit(number, text, FAMILY, wanted)
    return TrackingNumber(
        family=FAMILY,
        text=text,
        parts=(
            Part(name="service indicator", text=text[:2], start=0),
            Part(name="serial", text=text[2:10], start=2),
            Part(name="check digit", text=text[10], start=10),
            Part(name="country of issue", text=text[11:], start=11),
        ),
        role=FAMILY.role,
        check_rule=FAMILY.check_rule,
        given=number,
        findings=_findings(text),
    )


def is_valid(number: str) -> bool:
    return isinstance(validate(number), TrackingNumber)


def format(number: str) -> str:
    """Grouped 2-3-3-3-2, as `EE 876 543 216 CA` (S10-12 section 8)."""
    return grouping.spaced(compact(number), FAMILY.group_sizes)


def _wrong_shape(number: str, text: str) -> Rejection:
    letters = (1, 2, 12, 13)
    wrong = tuple(
        place
        for place, char in enumerate(text, 1)
        if not ("A" <= char <= "Z" if place in letters else texts.is_digits(char))
    )
    return Rejection(
        given=number,
        text=text,
        reason=Finding.of(Code.SHAPE, positions=wrong),
        likely=FAMILY.name,
    )


def _findings(text: str) -> tuple[Finding, ...]:
    if text[0] in SERVICES:
        return ()
    return (
        Finding.of(
            Code.SERVICE_UNLISTED,
            weight=Weight.NOTE,
            positions=(1, 2),
            service=text[:2],
            is_s10=True,
            is_like_imb=False,
        ),
    )

"""Label number of 20 digits, in either of its two check-digit conventions.

A 20-digit label either carries a check digit over its own 19 digits (plain Code 128), or
one computed with application identifier 91 in front (GS1-128, 22 digits in the bars, 20
in print). Both can never hold at once: 91 in front adds 28 to the sum, so the two digits
always differ by two. Accepting "either" in silence would let through two check digits of
ten; so the symbology decides where it is known, and elsewhere the convention that held is
said.

An unknown service code is doubted: a 22-digit code that lost two digits has this shape, and
one in five of them passes one of the two conventions.

>>> validate("7019 1640 0000 0800 4105").check_rule.value
'mod-10, weights 3 and 1'
>>> validate("7196 9010 7560 0307 7385").check_rule.value
'mod-10, weights 3 and 1, computed with 91 in front'
>>> validate("7196 9010 7560 0307 7385", aim="]C0").code
'check-digit'
"""

from __future__ import annotations

from pairing.findings import Code, Finding, Weight
from pairing.model import CheckRule, Family, Number, Role, TrackingNumber
from pairing.numbers import checkdigit, grouping, parts, rejections
from pairing.numbers import text as texts

FAMILY = Family(
    name="label20",
    title="20-digit label number",
    role=Role.ARTICLE,
    lengths=(20,),
    group_sizes=(4,),
    check_rule=CheckRule.MOD10,
    source="USPS Publication 109 ch. 2-8 (20 digits); Publication 91 (with 91 in front)",
)

AI91 = "91"

COUNTER_LABEL = "70"
"""Labels from the counter's pad keep the bare convention: computed on two published numbers
(handbook 2.1)."""

SERVICES = {
    "70": "certified, label from the counter's pad",
    "71": "certified",
    "73": "insured",
    "77": "registered",
    "81": "return receipt for merchandise",
    **dict.fromkeys(("01", "02", "03", "04"), "delivery confirmation"),
    **dict.fromkeys(("05", "06", "07", "08"), "delivery confirmation, insured"),
    **dict.fromkeys(("21", "22", "23", "24"), "signature confirmation"),
    **dict.fromkeys(("25", "26"), "signature confirmation, insured"),
}
"""Two-digit service type codes: Publication 109 and 91; 70 inferred from real labels.
They only describe and warn."""


def compact(number: str) -> str:
    """20 digits; a leading application identifier 91 (22 digits) is taken off."""
    text = texts.compact(number)
    return text[2:] if len(text) == 22 and text.startswith(AI91) else text


def calc_check_digit(number: str, *, with_ai91: bool = False) -> str:
    """The check digit over 19 digits in the chosen convention."""
    data = texts.compact(number)
    return checkdigit.mod10(AI91 + data if with_ai91 else data)


def validate(number: str, *, aim: str = "") -> Number:
    """The number with its convention, or what is wrong with it. Never raises.

    aim: the ISO/IEC 15424 identifier it arrived with, if any. `]C0` admits only the bare
    convention, `]C1` only the one with 91; 22 digits that begin with 91 speak for themselves.
    """
    text = compact(number)
    if not texts.is_digits(text):
        return rejections.not_digits(number, text, FAMILY)
    if len(text) not in FAMILY.lengths:
        return rejections.wrong_length(number, text, FAMILY)
    ai91_sent = len(texts.compact(number)) == 22
    bare, with_91 = (calc_check_digit(text[:-1], with_ai91=ai) for ai in (False, True))
    if ai91_sent or aim == "]C1":
        if text[-1] != with_91:
            return rejections.wrong_check_digit(number, text, FAMILY, with_91, convention="with 91")
        return _accept(number, text, CheckRule.MOD10_AI91, is_certain=True, aim=aim)
    if text[-1] == bare:
        return _accept(number, text, CheckRule.MOD10, is_certain=aim == "]C0", aim=aim)
    if text[-1] == with_91:
        if aim == "]C0" or text.startswith(COUNTER_LABEL):
            return rejections.wrong_check_digit(number, text, FAMILY, bare, convention="without 91")
        return _accept(number, text, CheckRule.MOD10_AI91, is_certain=False, aim=aim)
    return rejections.wrong_check_digit(number, text, FAMILY, bare, with_91=with_91)


def is_valid(number: str) -> bool:
    return isinstance(validate(number), TrackingNumber)


def format(number: str) -> str:
    """In the printed groups of four; 91 is never printed."""
    return grouping.spaced(compact(number), FAMILY.group_sizes)


def _accept(
    number: str, text: str, rule: CheckRule, *, is_certain: bool, aim: str
) -> TrackingNumber:
    findings = []
    if not is_certain:
        is_with_91 = rule is CheckRule.MOD10_AI91
        findings.append(
            Finding.of(
                Code.CONVENTION,
                weight=Weight.DOUBT if is_with_91 else Weight.NOTE,
                positions=(20,),
                is_with_91=is_with_91,
                aim=aim or None,
            )
        )
    if text[:2] not in SERVICES:
        findings.append(
            Finding.of(
                Code.SERVICE_UNLISTED,
                weight=Weight.DOUBT,
                positions=(1, 2),
                service=text[:2],
                is_s10=False,
                is_like_imb=text[1] in "01234",
            )
        )
    return TrackingNumber(
        family=FAMILY,
        text=text,
        parts=parts.cut(
            text, (("service type code", 2), ("customer identifier", 9)), rest="serial"
        ),
        role=FAMILY.role,
        check_rule=rule,
        given=number,
        findings=tuple(findings),
    )

"""Package identification code: 22 or 26 digits, channel 92 to 95.

>>> validate("9374890100000003985039").text
'9374890100000003985039'
>>> format("9374890100000003985039")
'9374 8901 0000 0003 9850 39'
>>> validate("9374890100000003985038").code
'check-digit'

The number may arrive behind its routing prefix (420 and a postal code), with or
without the group separator between them; `routing` parts the two.
"""

from __future__ import annotations

from pairing.findings import Code, Finding
from pairing.model import CheckRule, Family, Number, Part, Role, TrackingNumber
from pairing.numbers import checkdigit, grouping, parts, rejections, routing
from pairing.numbers import text as texts

FAMILY = Family(
    name="package",
    title="package identification code",
    role=Role.ARTICLE,
    lengths=(22, 26),
    group_sizes=(4,),
    check_rule=CheckRule.MOD10,
    source="USPS Publication 199 as quoted; Parcel Labeling Guide v2.0 (2014) 5.1; "
    "AFP Consortium BCOCA Reference, Code 128 modifier X'06'",
)

CHANNELS = {
    "92": "commercial mailer, 9-digit mailer identifier",
    "93": "commercial mailer, 6-digit mailer identifier",
    "94": "online or PC postage",
    "95": "retail counter or kiosk",
}
"""Parcel Labeling Guide 5.1.3."""


def compact(number: str) -> str:
    """The number without separators; a routing prefix stays."""
    return texts.compact(number)


def calc_check_digit(number: str) -> str:
    """The check digit over 21 or 25 digits, channel first (Parcel Labeling Guide 5.1.7)."""
    return checkdigit.mod10(compact(number))


def validate(number: str) -> Number:
    """The number with its parts, or what is wrong with it. Never raises."""
    return routing.resolve(number, compact(number), _validate_bare)


def is_valid(number: str) -> bool:
    return isinstance(validate(number), TrackingNumber)


def format(number: str) -> str:
    """In the printed groups of four (BCOCA Reference: human-readable text)."""
    return grouping.spaced(compact(number), FAMILY.group_sizes)


def _validate_bare(number: str) -> Number:
    text = compact(number)
    fault = rejections.mod10_faults(number, text, FAMILY, prefixes=tuple(CHANNELS))
    return fault or TrackingNumber(
        family=FAMILY,
        text=text,
        parts=_parts(text),
        role=FAMILY.role,
        check_rule=FAMILY.check_rule,
        given=number,
        findings=_findings(text),
    )


def _parts(text: str) -> tuple[Part, ...]:
    # How 94 and longer 95 numbers split behind the service code cannot be told from
    # the digits (constructs N01-N10, C01-C10), so they keep one undivided part.
    middle = {
        "92": (("mailer identifier", 9),),
        "93": (("mailer identifier", 6),),
        "94": (),
        "95": _RETAIL if len(text) == 22 else (),
    }[text[:2]]
    return parts.cut(
        text,
        (("channel", 2), ("service type code", 3), *middle),
        rest="serial" if middle else "mailer and serial",
    )


_RETAIL = (("retail channel", 1), ("device", 6), ("day YDDD", 4))
"""Field names: Postal Bulletin 22477; widths from memory, so they only label, never reject."""


def _findings(text: str) -> tuple[Finding, ...]:
    mailer = {"92": text[5], "93": text[5]}.get(text[:2])
    # The rule is in Publication 199, yet the BCOCA Reference's own example breaks it
    # (93 with mailer 901000): it is said and rejects nothing.
    if (text[:2] == "92" and mailer != "9") or (text[:2] == "93" and mailer == "9"):
        return (
            Finding.of(
                Code.MAILER_RANGE,
                positions=(6,),
                channel=text[:2],
                digits=9 if text[:2] == "92" else 6,
                found=mailer,
            ),
        )
    return ()

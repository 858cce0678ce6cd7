"""Keyboard layouts that disagree between scanner and computer.

A scanner set to a US keyboard names keys, not characters. On a French or Belgian
(AZERTY) computer the digit keys without Shift give `&é"'(-è_çà`; on a German (QWERTZ) one
Y and Z change places and the `]` of a symbology identifier becomes `+`. Key tables: the
layouts themselves, from memory; the effect on AIM prefixes: standards handbook section 7.
"""

from __future__ import annotations

import re

from pairing.numbers.text import is_digits

_AZERTY_DIGITS = dict(zip("&é\"'(-è_çà", "1234567890", strict=True)) | {"§": "6", "!": "8"}
_AZERTY_LETTERS = {"A": "Q", "Q": "A", "Z": "W", "W": "Z", "?": "M", ",": "M"}
_AZERTY_BRACKET = "$"
_QWERTZ_PREFIX = re.compile(r"\+[A-Za-z][0-9A-Za-z]")
_QWERTZ = str.maketrans("YZyz", "ZYzy")

FEWEST_KEYS = 8
"""Fewest digit keys before a text counts as AZERTY: shorter than any number."""


def from_azerty(text: str) -> str | None:
    """`text` as the scanner meant it, or None where it does not look like AZERTY.

    It does where no decimal digit is in it and all but the letters of an S10 number, a
    symbology identifier and blanks are digit keys.
    """
    body = text.removeprefix(_AZERTY_BRACKET)
    keys = sum(char in _AZERTY_DIGITS for char in body)
    others = [char for char in body if char not in _AZERTY_DIGITS and not char.isspace()]
    if keys < FEWEST_KEYS or any(map(is_digits, body)):
        return None
    if not all((char.isascii() and char.isalpha()) or char in "?,\x1d" for char in others):
        return None
    mapped = "".join(
        _AZERTY_DIGITS.get(char) or _AZERTY_LETTERS.get(char.upper(), char) for char in body
    )
    return ("]" if text.startswith(_AZERTY_BRACKET) else "") + mapped


def from_qwertz(text: str) -> str | None:
    """`text` as the scanner meant it, or None.

    Only a symbology identifier that begins with `+` gives this layout away; Y and Z alone
    could be true.
    """
    if not _QWERTZ_PREFIX.match(text):
        return None
    return "]" + text[1:].translate(_QWERTZ)

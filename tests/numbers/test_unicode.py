"""Whatever character there is: nothing raises, and only decimal digits are digits.

The characters are Python's own table of Unicode (`unicodedata`).
"""

from __future__ import annotations

import sys
import unicodedata

import pytest

from pairing.compare import compare
from pairing.findings.wording.plurals import unit
from pairing.model import TrackingNumber
from pairing.numbers import MODULES, foreign, identify, is_number, printed
from pairing.numbers import text as texts
from pairing.wedge import keypad, layouts, parse_keyed, parse_line

EVERY = [chr(code) for code in range(sys.maxunicode + 1)]
LIKE_DIGITS = [
    char for char in EVERY
    if not char.isascii()
    and (char.isnumeric() or unicodedata.category(char) in ("Nd", "No", "Zs", "Pd"))
    and not 0x3400 <= ord(char) <= 0x2FA1F
]  # fmt: skip
"""What Python or a person may take for a digit, and blanks and dashes; of Han numerals those
outside the large blocks."""
NO_DECIMALS = [char for char in LIKE_DIGITS if unicodedata.decimal(char, None) is None]

PACKAGE = "9374890100000003985039"  # BCOCA Reference, IMpb example
S10 = "EE876543216CA"  # UPU S10-12, Annex A


def test_only_ten_characters_are_digits() -> None:
    assert "".join(filter(texts.is_digits, EVERY)) == "0123456789"
    assert [char for char in EVERY if unit(char) == "digit"] == list("0123456789")
    assert texts.count_digits("".join(EVERY)) == 10


def test_decimals_of_any_script_become_ascii_and_nothing_else_does() -> None:
    for char in EVERY:
        value, found = unicodedata.decimal(char, None), texts.compact(char)
        if value is not None:
            assert found == str(value)
        elif found and found in "0123456789":
            pytest.fail(f"{char!r} became {found}")


def test_there_is_something_to_try() -> None:
    assert len(NO_DECIMALS) > 300
    assert {"\u00b2", "\u2460", "\u00bd", "\u0bf0"} <= set(NO_DECIMALS)


@pytest.mark.parametrize("start", [PACKAGE, S10, PACKAGE * 2, "083073080045052045049" * 2])
def test_no_character_makes_a_line_fail_or_a_number(start: str) -> None:
    for char in NO_DECIMALS:
        for text in (start[:-1] + char, char + start[1:], start[:7] + char + start[8:]):
            if texts.compact(char):
                assert not isinstance(identify(text), TrackingNumber), text
                assert not is_number(text)
            assert parse_line(text)
            assert parse_keyed(text)
            assert printed(text) or not texts.compact(text)
            assert keypad.from_codes(text) is None or texts.is_digits(text)
            layouts.from_azerty(text)
            foreign.kind(text)
            assert not compare(start, text, group_sizes=(4,), is_valid=is_number).equal


def test_a_line_of_keypad_codes_that_ends_in_a_superscript_two() -> None:
    """Python's `str.isdigit` holds for it and `int` does not take it."""
    line = "083073080045052045049" * 2
    (scan,) = parse_line(line[:-1] + "\u00b2")
    assert not isinstance(scan.number, TrackingNumber)


@pytest.mark.parametrize("name", MODULES)
def test_no_family_takes_any_other_character(name: str) -> None:
    module = MODULES[name]
    for char in NO_DECIMALS:
        for text in (PACKAGE[:-1] + char, S10[:-3] + char + S10[-2:]):
            if texts.compact(char):
                assert not module.is_valid(text)

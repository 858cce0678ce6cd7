"""Single repairs of the wedge, by themselves."""

from __future__ import annotations

import pytest

from pairing.model import GS, Rejection, TrackingNumber
from pairing.numbers import is_number
from pairing.wedge import keypad, layouts, parse_keyed, parse_line, splitting
from pairing.wedge.questions import LONGEST_LINE

S10 = "EE876543216CA"  # UPU S10-12, Annex A
OTHER_S10 = "AB123100000IE"  # zint test_code128.c citing UPU S10-12
PACKAGE = "9374890100000003985039"  # BCOCA Reference, IMpb example


def codes_of(text: str) -> str:
    return "".join(f"{ord(char):03d}" for char in text)


@pytest.mark.parametrize(
    ("char", "is_sent"),
    [("0", True), ("A", True), ("a", True), (GS, True), (" ", True), ("]", True), ("-", True),
     ("\t", True), ("\u00e9", False), ("#", False), ("\u00b2", False), ("\x00", False)],
)  # fmt: skip
def test_what_a_scanner_of_numbers_sends(char: str, is_sent: bool) -> None:
    assert keypad.is_typed(char) is is_sent
    line = codes_of("A" * 12 + char)
    assert keypad.from_codes(line) == ("A" * 12 + char if is_sent else None)


def test_fewer_codes_than_the_shortest_number_are_digits() -> None:
    assert keypad.from_codes(codes_of("A" * 13)) == "A" * 13
    assert keypad.from_codes(codes_of("A" * 12)) is None
    assert keypad.from_codes(codes_of("A" * 13) + "1") is None
    assert keypad.from_codes("") is None


def test_every_place_of_a_separator_typed_as_digits() -> None:
    assert keypad.with_separators("029" + PACKAGE) == (PACKAGE,)
    routed = "42012345029" + PACKAGE
    assert keypad.with_separators(routed) == ("42012345" + GS + PACKAGE,)
    assert set(keypad.with_separators("029" + routed)) == {routed, "42012345" + GS + PACKAGE}
    nine = "420123456789029" + PACKAGE
    assert keypad.with_separators(nine) == ("420123456789" + GS + PACKAGE,)
    assert keypad.with_separators(PACKAGE) == ()
    assert keypad.with_separators("93012345029" + PACKAGE) == ()  # no routing prefix in front


def test_numbers_that_ran_together_come_apart_in_the_one_way_there_is() -> None:
    assert splitting.into_numbers(S10 + OTHER_S10) == (S10, OTHER_S10)
    assert splitting.into_numbers(S10 + PACKAGE + OTHER_S10) == (S10, PACKAGE, OTHER_S10)
    assert splitting.into_numbers(S10) is None
    assert splitting.into_numbers("92748931507708513018050063") is None  # one whole number
    assert splitting.into_numbers(S10 + "7") is None
    assert splitting.into_numbers(S10 * 4) == (S10,) * 4
    assert splitting.into_numbers(S10 * 5) is None
    assert splitting.into_numbers(S10 * 2, most=1) is None


def test_a_text_that_is_said_twice() -> None:
    assert splitting.half(S10 * 2) == S10
    assert splitting.half("7" * 26) == "7" * 13
    assert splitting.half("7" * 24) is None
    assert splitting.half("7" * 27) is None
    assert splitting.half(S10 + OTHER_S10) is None


@pytest.mark.parametrize(
    ("text", "is_cut"),
    [
        ("EE87654", True),
        ("EE876543", True),
        ("EE8765432165", True),
        ("EE87654321655", False),  # 13 characters are all of one
        ("EEA76543", False),
        ("E8765432", False),
        ("937489", True),
        ("93748", False),
        (PACKAGE[:-1], True),
        (PACKAGE[:18], True),
        ("9590940258780038231", True),
        ("7019164000000800410", True),
        ("701916", True),
        ("4201234593748901000000039850", True),  # with a routing prefix
        ("42012345937489010000000398509", False),  # as long as a letter barcode
        ("94023456789012345678", False),  # refused for what it says, not for its length
        ("81234567", False),
        ("12345678", False),
        ("93748901XYW", False),
    ],
)
def test_a_scan_that_was_cut_short_begins_like_a_number(text: str, is_cut: bool) -> None:
    assert not is_number(text)
    (scan,) = parse_line(text)
    assert ("truncated" in {finding.code for finding in scan.findings}) is is_cut


@pytest.mark.parametrize(
    ("text", "is_said"),
    [
        ("E8765?43216CA", True),  # no two letters in front
        ("EE8765?43216C", True),  # nor behind
        ("EE876543217CA", False),
        ("12345?6", True),
        ("1234?5", False),  # fewer than six digits
    ],
)
def test_keyed_characters_that_were_not_legible(text: str, is_said: bool) -> None:
    scan = parse_keyed(text)
    assert ("keyed-illegible" in {finding.code for finding in scan.findings}) is is_said


def test_of_two_scans_in_one_line_the_one_that_was_read_twice_is_said_to_be() -> None:
    first, second = parse_line(f"{PACKAGE}{S10}{S10}")
    double = [["double-read" in {one.code for one in scan.findings}] for scan in (first, second)]
    assert double == [[False], [True]]


def test_how_long_a_line_is_looked_at() -> None:
    for parse in (lambda line: parse_line(line)[0], parse_keyed):
        longest, longer = parse("7" * LONGEST_LINE), parse("7" * (LONGEST_LINE + 1))
        assert len(longest.raw) == LONGEST_LINE
        assert len(longer.raw) < 100
        assert not is_number(longest.text)
        assert "one line" in longer.number.message  # type: ignore[union-attr]


def test_an_identifier_belongs_to_the_first_of_two_that_ran_together() -> None:
    label = "70191640000008004105"  # state agency records
    for line, expected in ((label + PACKAGE, (True, True)), (PACKAGE + label, (True, False))):
        scans = parse_line("]C0" + line)
        found = [
            isinstance(scan.number, TrackingNumber)
            and "convention" not in {one.code for one in scan.number.findings}
            for scan in scans
        ]
        assert tuple(found) == expected


def test_a_keyed_s10_number_that_is_wrong_is_not_called_illegible() -> None:
    for text, is_illegible in (("EE876543217CA", False), ("EE8765432X7CA", True)):
        codes = {one.code for one in parse_keyed(text).findings}
        assert ("keyed-illegible" in codes) is is_illegible


def test_a_digit_among_the_keys_is_no_azerty() -> None:
    assert layouts.from_azerty("&\u00e9\"'(-\u00e8_") == "12345678"
    assert layouts.from_azerty("&\u00e9\"'(-\u00e8") is None
    assert layouts.from_azerty("&\u00e9\"'(-\u00e8_1") is None


@pytest.mark.parametrize("key", ["?", ","])
def test_the_letter_m_on_a_french_keyboard(key: str) -> None:
    # The key of a US M gives "," there and with Shift "?"; A is where Q is (from memory). The
    # number's check digit: UPU S10-12, weights 8 6 4 2 3 5 9 7.
    assert layouts.from_azerty(f"{key}Q&\u00e9\"'(-\u00e8_(GB") == "MA123456785GB"
    assert layouts.from_azerty("#Q&\u00e9\"'(-\u00e8_(GB") is None


def test_of_a_line_too_long_to_be_a_scan_the_beginning_is_kept() -> None:
    # Own rule: 40 characters, so that a person can tell what it was.
    (scan,) = parse_line("8" * 60 + "7" * LONGEST_LINE)
    assert scan.text == scan.raw == "8" * 40
    assert isinstance(scan.number, Rejection)
    assert scan.number.code == "length"

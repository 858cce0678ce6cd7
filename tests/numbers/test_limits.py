"""What is just right and what is just too much, of the functions that all families share."""

from __future__ import annotations

import pytest

from pairing.errors import CounterfoilError, NotCalculable
from pairing.model import Rejection, TrackingNumber
from pairing.numbers import checkdigit, foreign, identify, is_number, label20, parts, recognition
from pairing.numbers import text as texts

PACKAGE = "9374890100000003985039"  # BCOCA Reference, IMpb example


def test_whether_a_text_is_a_number_is_yes_or_no() -> None:
    assert is_number(PACKAGE) is True
    assert is_number(PACKAGE[:-1]) is False


@pytest.mark.parametrize("serial", ["1234567", "123456789", "1234567x", ""])
def test_an_s10_check_digit_is_that_of_eight_digits(serial: str) -> None:
    with pytest.raises(NotCalculable) as caught:
        checkdigit.s10(serial)
    assert caught.value.remedy == "Give eight digits."


def test_nothing_foreign_is_an_empty_text() -> None:
    assert foreign.kind("1") == ""


def test_a_book_whose_number_ends_with_a_letter_is_named() -> None:
    number = identify("0-8044-2957-X")  # ISBN-10, from memory; X is ten (ISO 2108)
    assert isinstance(number, Rejection)
    assert number.code == "other-kind"


def test_an_application_identifier_is_taken_off_22_digits_alone() -> None:
    retail = "70190000164008004105"  # NC DEQ public record
    assert label20.compact("91" + retail) == retail
    assert label20.compact("91" + retail[2:]) == "91" + retail[2:]
    assert label20.compact(PACKAGE) == PACKAGE


def test_twenty_characters_with_letters_resemble_a_label() -> None:
    number = identify("7019164000000800410A")
    assert isinstance(number, Rejection)
    assert (number.code, number.likely) == ("not-digits", "label20")


def test_a_number_without_a_serial_has_no_such_part() -> None:
    assert [one.text for one in parts.cut("1234", (("all", 3),), rest="serial")] == ["123", "4"]
    assert [one.text for one in parts.cut("1234", (("some", 2),), rest="serial")] == [
        "12", "3", "4",
    ]  # fmt: skip


def test_the_longest_text_that_is_looked_at() -> None:
    for count, is_too_long in ((recognition.LONGEST, False), (recognition.LONGEST + 1, True)):
        number = identify("8" * count)
        assert isinstance(number, Rejection)
        assert (dict(number.reason.parameters)["too_long"] is not None) is is_too_long


def test_bars_of_an_unusual_kind_are_spoken_of_and_no_others() -> None:
    for aim, is_usual in (("]C0", True), ("]C1", True), ("]A0", False)):
        number = identify("9400111201080805483016", aim=aim)  # tracking_number_data
        assert isinstance(number, TrackingNumber)
        assert (number.findings == ()) is is_usual, aim


def test_a_family_that_there_is_none_of() -> None:
    with pytest.raises(CounterfoilError) as caught:
        recognition.family("nothing")
    assert caught.value.remedy == f"Known: {', '.join(recognition.MODULES)}."


def test_what_cannot_be_seen_is_left_out_and_what_is_a_letter_is_not() -> None:
    assert texts.compact("9374\u200b89\u00ad01") == "93748901"  # Unicode category Cf
    assert texts.compact("9374é8901") == "9374É8901"

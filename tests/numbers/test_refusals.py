"""What a family takes, and what a text is said to resemble."""

from __future__ import annotations

import pytest

from pairing.findings import Code
from pairing.model import Rejection, TrackingNumber
from pairing.numbers import MODULES, identify, is_number


@pytest.mark.parametrize("name", MODULES)
@pytest.mark.parametrize("text", ["", "1", "123", "4201234", "7" * 19, "EE87654321CA", "AB"])
def test_a_family_refuses_what_is_none_of_it(name: str, text: str) -> None:
    refused = MODULES[name].validate(text)
    assert isinstance(refused, Rejection)
    assert refused.likely == name


def test_parts_of_a_pre_printed_label() -> None:
    label22 = MODULES["label22"]
    data = "958907105270000001234"
    number = label22.validate(data + label22.calc_check_digit(data))
    assert isinstance(number, TrackingNumber)
    assert [(part.name, part.text) for part in number.parts][:2] == [
        ("label family", "958907"), ("serial", "105270000001234"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("EE87654321612", Code.SHAPE), ("87876543216CA", Code.SHAPE),
        ("E1876543216C1", Code.SHAPE),
        ("1E8765432161A", Code.SHAPE),
        ("E187654321612", Code.NOT_A_NUMBER), ("118765432161A", Code.NOT_A_NUMBER),
        ("X" * 6 + "0" * 16, Code.NOT_DIGITS), ("X" * 7 + "0" * 15, Code.NOT_A_NUMBER),
        ("X" * 6 + "0" * 14, Code.NOT_DIGITS), ("X" * 6 + "0" * 20, Code.NOT_DIGITS),
        ("X" * 6 + "0" * 21, Code.NOT_A_NUMBER), ("X" * 6 + "0" * 17, Code.NOT_A_NUMBER),
    ],
)  # fmt: skip
def test_letters_say_what_a_text_most_resembles(text: str, code: Code) -> None:
    number = identify(text)
    assert isinstance(number, Rejection)
    assert number.code == code


def test_a_mailer_in_its_range_is_not_spoken_of() -> None:
    number = identify("92748931507708513018050063")  # tracking_number_data
    assert isinstance(number, TrackingNumber)
    assert number.findings == ()


def test_a_number_sent_with_91_is_held_to_the_check_digit_with_91() -> None:
    label20 = MODULES["label20"]
    retail = "70190000164008004105"  # NC DEQ public record; its digit is the one without 91
    assert label20.is_valid(retail)
    refused = label20.validate("91" + retail)
    assert isinstance(refused, Rejection)
    assert dict(refused.reason.parameters)["convention"] == "with 91"


def test_whether_a_text_is_a_number_at_all() -> None:
    assert is_number("EE876543216CA") is True  # UPU S10-12 Annex A
    assert is_number("EE876543217CA") is False


def test_twenty_digits_of_no_service_are_a_letter_barcodes_or_a_wrong_label_number() -> None:
    """USPS-B-3200, from memory: the second digit of a letter barcode is 0 to 4."""
    for text, is_letter in (("14900000000000000001", True), ("15300000000000000001", False)):
        refused = identify(text)
        assert isinstance(refused, Rejection)
        assert ("letter barcode" in refused.message) is is_letter
        assert (refused.code == Code.CHECK_DIGIT) is not is_letter


def test_an_s10_service_that_is_not_listed_is_noted_as_one_of_s10() -> None:
    """UPU S10: the first letter names the service."""
    number = identify("JE876543216CA")
    assert isinstance(number, TrackingNumber)
    (noted,) = number.findings
    assert noted.code == Code.SERVICE_UNLISTED
    assert dict(noted.parameters)["is_s10"] is True

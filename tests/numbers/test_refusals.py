"""What a family takes, and what a text is said to resemble."""

from __future__ import annotations

import pytest

from pairing.findings import Code
from pairing.model import Rejection, TrackingNumber
from pairing.numbers import MODULES, identify


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

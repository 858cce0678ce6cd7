"""Where a number's parts begin and end, and what is said of its check digit.

Widths: USPS Parcel Labeling Guide 5.1.3 and BCOCA Reference (packages), UPU S10-12 (items), GS1
General Specifications (SSCC); those of labels and cards from memory.
"""

from __future__ import annotations

from typing import Any

import pytest

from pairing.findings import Code, Weight
from pairing.model import CheckRule, Rejection, TrackingNumber
from pairing.numbers import MODULES, checkdigit, group_sizes, identify, label20, printed, s10
from pairing.numbers import text as texts

Parts = list[tuple[str, str]]


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        (
            "9374890100000003985039",  # BCOCA Reference
            [("channel", "93"), ("service type code", "748"), ("mailer identifier", "901000"),
             ("serial", "0000398503"), ("check digit", "9")],
        ),
        (
            "92748931507708513018050063",  # tracking_number_data
            [("channel", "92"), ("service type code", "748"), ("mailer identifier", "931507708"),
             ("serial", "51301805006"), ("check digit", "3")],
        ),
        (
            "9400111201080805483016",  # tracking_number_data
            [("channel", "94"), ("service type code", "001"),
             ("mailer and serial", "1120108080548301"), ("check digit", "6")],
        ),
        (
            "9590940258780038231151",  # NC DEQ public record NOV-2020-DV-0495
            [("card family", "959094"), ("serial", "025878003823115"), ("check digit", "1")],
        ),
        (
            "70191640000008004105",  # state agency records
            [("service type code", "70"), ("customer identifier", "191640000"),
             ("serial", "00800410"), ("check digit", "5")],
        ),
        (
            "EE876543216CA",  # UPU S10-12, Annex A
            [("service indicator", "EE"), ("serial", "87654321"), ("check digit", "6"),
             ("country of issue", "CA")],
        ),
        ("42012345", [("application identifier", "420"), ("postal code", "12345")]),
        ("420123456789", [("application identifier", "420"), ("postal code", "123456789")]),
        (
            "106141411234567897",  # GS1 General Specifications
            [("extension digit", "1"), ("company prefix and serial", "0614141123456789"),
             ("check digit", "7")],
        ),
    ],
)  # fmt: skip
def test_parts(text: str, parts: Parts) -> None:
    number = identify(text)
    assert isinstance(number, TrackingNumber)
    assert [(part.name, part.text) for part in number.parts] == parts
    assert [part.start for part in number.parts] == [
        sum(len(own) for _, own in parts[:index]) for index in range(len(parts))
    ]


def test_retail_packages_of_22_digits_have_their_fields() -> None:
    """Field names: Postal Bulletin 22477; widths from memory."""
    package = MODULES["package"]
    data = "955001234567890120001"
    number = package.validate(data + package.calc_check_digit(data))
    assert isinstance(number, TrackingNumber)
    assert [(part.name, len(part.text)) for part in number.parts] == [
        ("channel", 2), ("service type code", 3), ("retail channel", 1), ("device", 6),
        ("day YDDD", 4), ("serial", 5), ("check digit", 1),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "aim", "code", "positions", "parameters"),
    [
        ("", "", Code.EMPTY, (), {"aim": None}),
        ("]C1", "", Code.EMPTY, (), {"aim": "]C1"}),
        ("7" * 65, "", Code.LENGTH, (), {"length": 65, "too_long": "number", "title": None}),
        ("123", "", Code.LENGTH, (), {"length": 3, "too_long": None, "title": None}),
        (
            "93748901O00000O3985039", "", Code.NOT_DIGITS, (9, 15), {"characters": "OO"},
        ),
        (
            "9374890100000003985038", "", Code.CHECK_DIGIT, (22,),
            {"found": "8", "wanted": "9", "with_91": None, "convention": None},
        ),
        (
            "71969010756003077386", "", Code.CHECK_DIGIT, (20,),
            {"found": "6", "wanted": "3", "with_91": "5", "convention": None},
        ),
        (
            "71969010756003077385", "]C0", Code.CHECK_DIGIT, (20,),
            {"found": "5", "wanted": "3", "with_91": None, "convention": "without 91"},
        ),
        (
            "71969010756003077386", "]C1", Code.CHECK_DIGIT, (20,),
            {"found": "6", "wanted": "5", "convention": "with 91"},
        ),
        ("EE876543217CA", "", Code.CHECK_DIGIT, (11,), {"found": "7", "wanted": "6"}),
        ("9780306406157", "]E0", Code.OTHER_KIND, (), {"what": "an ISBN (a book's number)"}),
        ("1234", "]E0", Code.OTHER_KIND, (), {"what": "EAN/UPC bars"}),
        ("HELLO WORLD 1", "", Code.NOT_A_NUMBER, (1, 2, 3, 4, 5, 6, 7, 8, 9, 10), {}),
        ("12\x1d34", "", Code.FIELDS, (), {}),
        (
            "9674890100000003985039", "", Code.PREFIX, (1, 2, 3, 4),
            {"found": "9674", "wanted": ("92", "93", "94", "95")},
        ),
    ],
)  # fmt: skip
def test_why_a_text_is_no_number(
    text: str, aim: str, code: Code, positions: tuple[int, ...], parameters: dict[str, Any]
) -> None:
    number = identify(text, aim=aim)
    assert isinstance(number, Rejection)
    assert (number.code, number.positions) == (code, positions)
    found = dict(number.reason.parameters)
    assert {name: found[name] for name in parameters} == parameters


@pytest.mark.parametrize(
    ("text", "aim", "code", "weight", "positions", "parameters"),
    [
        (
            "9374890100000003985039", "", Code.MAILER_RANGE, Weight.NOTE, (6,),
            {"channel": "93", "digits": 6, "found": "9"},
        ),
        (
            "9274810100000003985038", "", Code.MAILER_RANGE, Weight.NOTE, (6,),
            {"channel": "92", "digits": 9, "found": "1"},
        ),
        (
            "70191640000008004105", "", Code.CONVENTION, Weight.NOTE, (20,),
            {"is_with_91": False, "aim": None},
        ),
        (
            "71969010756003077385", "", Code.CONVENTION, Weight.DOUBT, (20,),
            {"is_with_91": True, "aim": None},
        ),
        (
            "9590960258780038231159", "", Code.CARD_PREFIX_UNUSUAL, Weight.NOTE, (5, 6),
            {"digits": "96"},
        ),
        (
            "9400111201080805483016", "]A0", Code.SYMBOLOGY_UNUSUAL, Weight.DOUBT, (),
            {"bars": "Code 39"},
        ),
    ],
)  # fmt: skip
def test_what_is_odd_about_a_number(
    text: str,
    aim: str,
    code: Code,
    weight: Weight,
    positions: tuple[int, ...],
    parameters: dict[str, Any],
) -> None:
    number = identify(text, aim=aim)
    assert isinstance(number, TrackingNumber), number
    (finding,) = [one for one in number.findings if one.code == code]
    assert (finding.weight, finding.positions) == (weight, positions)
    found = dict(finding.parameters)
    assert {name: found[name] for name in parameters} == parameters


def test_the_convention_is_certain_where_the_symbology_says_it() -> None:
    for text, aim in (("70191640000008004105", "]C0"), ("71969010756003077385", "]C1")):
        number = identify(text, aim=aim)
        assert isinstance(number, TrackingNumber)
        assert Code.CONVENTION not in {one.code for one in number.findings}
    assert isinstance(label20.validate("91" + "71969010756003077385"), TrackingNumber)


@pytest.mark.parametrize(("second", "is_like_imb"), [("0", True), ("4", True), ("5", False)])
def test_a_service_that_is_not_known_is_doubted(second: str, is_like_imb: bool) -> None:
    data = "3" + second + "12345678901234567"
    number = label20.validate(data + label20.calc_check_digit(data), aim="]C0")
    assert isinstance(number, TrackingNumber)
    (finding,) = number.findings
    assert (finding.code, finding.weight) == (Code.SERVICE_UNLISTED, Weight.DOUBT)
    assert finding.positions == (1, 2)
    assert dict(finding.parameters) == {
        "service": "3" + second, "is_s10": False, "is_like_imb": is_like_imb,
    }  # fmt: skip


def test_a_reserved_s10_service_is_only_noted() -> None:
    serial = "87654321"
    for letters, count in (("EE", 0), ("JJ", 1)):
        text = letters + serial + s10.calc_check_digit(serial) + "CA"
        number = s10.validate(text)
        assert isinstance(number, TrackingNumber)
        assert len(number.findings) == count
        assert all(one.weight is Weight.NOTE for one in number.findings)


def test_groups_of_any_text() -> None:
    assert group_sizes("EE876543216CA") == group_sizes("EE876543217CA") == (2, 3, 3, 3, 2)
    assert group_sizes("9400111201080805483016") == group_sizes("hello") == (4,)
    assert printed("EE876543217CA") == "EE 876 543 217 CA"
    assert printed(identify("9400111201080805483016")) == "9400 1112 0108 0805 4830 16"
    assert printed("hello") == "HELL O"
    assert printed("") == printed(None) == ""


def test_fewest_digits() -> None:
    assert texts.count_digits("a1b2 3") == 3


def test_of_two_splits_that_both_fail_the_first_is_named() -> None:
    """420, five digits and 26, or nine and 22: neither remainder begins like a package."""
    behind = "8" * 26
    number = identify("42012345" + behind)
    assert isinstance(number, Rejection)
    assert (number.code, number.text) == (Code.PREFIX, behind)


def test_of_two_splits_that_both_fail_the_one_that_begins_right_is_named() -> None:
    number = identify("420123456789" + "9400111201080805483017")
    assert isinstance(number, Rejection)
    assert (number.code, number.text) == (Code.CHECK_DIGIT, "9400111201080805483017")


def test_nothing_odd_is_an_empty_tuple() -> None:
    for text in ("9400111201080805483016", "EE876543216CA", "9590940258780038231151"):
        number = identify(text)
        assert isinstance(number, TrackingNumber)
        assert number.findings == ()


def test_an_sscc_may_have_its_application_identifier_in_front() -> None:
    sscc = MODULES["sscc"]
    for text in ("106141411234567897", "00106141411234567897", "(00) 1 0614141 123456789 7"):
        number = sscc.validate(text)
        assert isinstance(number, TrackingNumber), text
        assert number.text == "106141411234567897"
        assert identify(text) == number
    assert sscc.compact("00106141411234567") == "00106141411234567"


def test_a_check_digit_is_shown_worked_out() -> None:
    """Sums worked by hand in the standards handbook, 1.3 and 5."""
    work = checkdigit.work_out("937489010000000398503", CheckRule.MOD10)
    assert work is not None
    assert work.weights[-3:] == (3, 1, 3)
    assert work.digit == "9"
    assert work.lines == (
        "every second digit, starting with the last one before the check digit: sum 41, "
        "times 3 = 123",
        "the other digits: sum 28",
        "together 123 + 28 = 151",
        "up to the next multiple of ten: 151 + 9 = 160",
    )
    s10_work = checkdigit.work_out("47312482", CheckRule.S10_MOD11)
    assert s10_work is not None
    assert s10_work.lines == (
        "weights 8 6 4 2 3 5 9 7: 8x4 + 6x7 + 4x3 + 2x1 + 3x2 + 5x4 + 9x8 + 7x2 = 200",
        "200 divided by 11 leaves 2",
        "11 - 2 = 9",
    )


@pytest.mark.parametrize(
    ("serial", "last"),
    [("00300000", "11 - 1 = 10, and 10 is written 0"),
     ("00000000", "11 - 0 = 11, and 11 is written 5"),
     ("10000000", "11 - 8 = 3"), ("00100000", "11 - 4 = 7"), ("00010000", "11 - 2 = 9")],
)  # fmt: skip
def test_a_folded_s10_check_digit_is_shown_folded(serial: str, last: str) -> None:
    """UPU S10-12: 10 becomes 0, 11 becomes 5."""
    work = checkdigit.work_out(serial, CheckRule.S10_MOD11)
    assert work is not None
    assert work.lines[-1] == last

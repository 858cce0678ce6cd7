"""Every published check value, each row with its source in facts/vectors.csv."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from stdnum import damm, ean, luhn, verhoeff

from pairing.model import CheckRule, Rejection, Role, TrackingNumber
from pairing.numbers import card22, identify, label20, package, s10, sscc
from pairing.photos.code128 import encoding
from pairing.wedge import WedgeSetup, keypad, parse_line

FACTS = Path(__file__).parent.parent / "facts" / "vectors.csv"
ROWS = [(row["kind"], row["text"], row["holds"] == "yes") for row in csv.DictReader(FACTS.open())]


def rows(*kinds: str) -> list[tuple[str, str, bool]]:
    found = [row for row in ROWS if row[0] in kinds]
    assert found, kinds
    return found


def test_no_row_is_left_out_by_the_tests_below() -> None:
    tested = {
        *("impb22", "impb22_9590_card", "impb22_placeholder", "impb26", "adv_zip_as_pic"),
        *("certified20_retail", "pic20", "pic20_ai91", "pic22_ai91", "s10", "sscc18", "gsrn18"),
        *("gtin8", "gtin12", "gtin13", "gtin14", "gln13", "luhn", "verhoeff", "damm"),
        *("adv_adjacent_swap_escapes", "adv_group_swap_escapes", "impb30_parse", "impb34_parse"),
        *("wire_gs1128", "c128_values", "hid_alt_numpad"),
    }
    assert {kind for kind, _, _ in ROWS} == tested


def test_the_copied_rows_are_those_of_the_reference_list(shared: Path) -> None:
    with (shared / "vectors.csv").open() as file:
        theirs = [
            (row["kind"], row["string"], row["valid"] == "true") for row in csv.DictReader(file)
        ]
    assert theirs == ROWS


@pytest.mark.parametrize(
    ("kind", "text", "holds"), rows("impb22", "impb22_9590_card", "impb22_placeholder", "impb26")
)
def test_package_codes_of_22_and_26_digits(kind: str, text: str, holds: bool) -> None:
    number = identify(text)
    assert isinstance(number, TrackingNumber) is holds
    assert (card22 if "card" in kind else package).is_valid(text) is holds
    if isinstance(number, TrackingNumber):
        assert number.text == text
        assert number.role is (Role.CARD if "card" in kind else Role.ARTICLE)
    else:
        assert number.code == "check-digit"


@pytest.mark.parametrize(("kind", "text", "holds"), rows("certified20_retail", "pic20"))
def test_20_digits_in_plain_bars_keep_the_bare_convention(
    kind: str, text: str, holds: bool
) -> None:
    number = identify(text, aim="]C0")
    assert isinstance(number, TrackingNumber) is holds
    if isinstance(number, TrackingNumber):
        assert number.check_rule is CheckRule.MOD10


@pytest.mark.parametrize(("kind", "text", "holds"), rows("pic20_ai91"))
def test_20_digits_with_91_in_front(kind: str, text: str, holds: bool) -> None:
    for number in (identify(text, aim="]C1"), identify("91" + text)):
        assert isinstance(number, TrackingNumber) is holds
        if isinstance(number, TrackingNumber):
            assert number.check_rule is CheckRule.MOD10_AI91
            assert number.text == text
    unknown = label20.validate(text)
    assert isinstance(unknown, TrackingNumber) is holds
    if isinstance(unknown, TrackingNumber):
        assert [finding.code for finding in unknown.findings] == ["convention"]


@pytest.mark.parametrize(("kind", "text", "holds"), rows("pic22_ai91"))
def test_22_digits_that_begin_with_91(kind: str, text: str, holds: bool) -> None:
    number = identify(text)
    assert isinstance(number, TrackingNumber) is holds
    if isinstance(number, TrackingNumber):
        assert (number.text, number.check_rule) == (text[2:], CheckRule.MOD10_AI91)


@pytest.mark.parametrize(("kind", "text", "holds"), rows("s10"))
def test_s10(kind: str, text: str, holds: bool) -> None:
    assert isinstance(identify(text), TrackingNumber) is holds
    assert s10.is_valid(text) is holds
    assert (s10.calc_check_digit(text) == text[10]) is holds


@pytest.mark.parametrize(("kind", "text", "holds"), rows("sscc18", "gsrn18"))
def test_18_digits(kind: str, text: str, holds: bool) -> None:
    number = identify(text)
    assert isinstance(number, TrackingNumber) is holds
    assert sscc.is_valid(text) is holds
    assert sscc.calc_check_digit(text[:-1]) == text[-1]
    if isinstance(number, TrackingNumber):
        assert number.role is Role.OTHER


@pytest.mark.parametrize(
    ("kind", "text", "holds"), rows("gtin8", "gtin12", "gtin13", "gtin14", "gln13")
)
def test_articles_of_trade_are_named_and_refused(kind: str, text: str, holds: bool) -> None:
    number = identify(text)
    assert isinstance(number, Rejection)
    assert (number.code == "other-kind") is holds
    assert ean.is_valid(text) is holds


@pytest.mark.parametrize(("kind", "text", "holds"), rows("luhn", "verhoeff", "damm"))
def test_other_check_digits_make_no_tracking_number(kind: str, text: str, holds: bool) -> None:
    reference = {"luhn": luhn, "verhoeff": verhoeff, "damm": damm}[kind]
    assert reference.is_valid(text) is holds
    assert isinstance(identify(text), Rejection)


@pytest.mark.parametrize(
    ("kind", "text", "holds"), rows("adv_adjacent_swap_escapes", "adv_group_swap_escapes")
)
def test_swaps_that_the_check_digit_lets_through(kind: str, text: str, holds: bool) -> None:
    assert isinstance(identify(text), TrackingNumber) is holds


def test_a_remainder_that_passes_mod_10_by_its_zeros_is_no_package_code() -> None:
    ((_, text, _),) = rows("adv_zip_as_pic")
    assert package.calc_check_digit(text[:-1]) == text[-1]
    number = package.validate(text)
    assert isinstance(number, Rejection)
    assert number.code == "prefix"


@pytest.mark.parametrize(("kind", "text", "holds"), rows("impb30_parse", "impb34_parse"))
def test_routing_is_parted_from_the_code(kind: str, text: str, holds: bool) -> None:
    number = identify(text)
    assert isinstance(number, TrackingNumber)
    assert (number.routing, number.text) == (text[3:-22], text[-22:])
    assert len(number.routing) == (5 if kind == "impb30_parse" else 9)


def test_gs1_128_as_a_scanner_sends_it() -> None:
    ((_, text, _),) = rows("wire_gs1128")
    (scan,) = parse_line(text, WedgeSetup(gs_substitutes=("<GS>",)))
    assert isinstance(scan.number, TrackingNumber)
    assert scan.aim == "]C1"
    assert (scan.number.routing, scan.number.text) == ("21234", "9374890100000003985039")


@pytest.mark.parametrize(("kind", "text", "holds"), rows("c128_values"))
def test_code_128_check_characters(kind: str, text: str, holds: bool) -> None:
    said, values, check = text.split("|")
    start_and_data = [int(value) for value in values.split()]
    wanted = int(check.removeprefix("check "))
    assert (encoding.check_value(start_and_data) == wanted) is holds
    message = encoding.message_of([*start_and_data, wanted])
    assert message is not None
    if not said.startswith("IMpb"):
        plain = said.removesuffix(" no FNC1").translate(str.maketrans("", "", "[]"))
        assert message.text == plain


def test_alt_and_keypad_codes() -> None:
    ((_, text, _),) = rows("hid_alt_numpad")
    usages = text.split("04:")[1].split("; 00:")[0].replace(";", "").split()
    # USB HID usage tables, keyboard page: keypad 1 to 9 are 0x59 to 0x61, keypad 0 is 0x62.
    digits = "".join(str((int(usage, 16) - 0x58) % 10) for usage in usages)
    # One scan of this length is below the shortest number: it is read here twice over.
    assert keypad.from_codes(digits * 2) == "SIP-4-1" * 2

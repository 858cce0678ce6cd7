"""What every family promises, and what each says of its own."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from stdnum import ean

from pairing.errors import UnknownFamily
from pairing.findings import Weight
from pairing.model import CheckRule, Rejection, Role, TrackingNumber
from pairing.numbers import MODULES, checkdigit, family, identify, label20, printed, routing, s10
from pairing.numbers import text as texts

from . import strategies as numbers

GS = "\x1d"


@pytest.mark.parametrize("name", MODULES)
def test_every_module_has_the_five_verbs_and_its_facts(name: str) -> None:
    module = MODULES[name]
    for verb in ("compact", "validate", "is_valid", "format", "calc_check_digit"):
        assert callable(getattr(module, verb)), verb
    assert module.FAMILY is family(name)
    assert module.FAMILY.source


def test_an_unknown_family_says_what_where_and_what_next() -> None:
    with pytest.raises(UnknownFamily, match=r"no such number family: 'parcel'\. Known: label22"):
        family("parcel")


@given(numbers.mod10_numbers, st.data())
def test_mod_10_catches_every_one_digit_error(number: str, data: st.DataObject) -> None:
    """GS1 General Specifications 7.9.1; share missed 0 (handbook 6.3)."""
    place = data.draw(st.integers(0, len(number) - 1))
    digit = data.draw(st.sampled_from([d for d in "0123456789" if d != number[place]]))
    wrong = number[:place] + digit + number[place + 1 :]
    assert checkdigit.mod10(wrong[:-1]) != wrong[-1]


@given(numbers.mod10_numbers, st.data())
def test_mod_10_catches_an_adjacent_swap_unless_five_apart(
    number: str, data: st.DataObject
) -> None:
    """Missed exactly for digits five apart (handbook 6.3: 05 16 27 38 49)."""
    place = data.draw(st.integers(0, len(number) - 2))
    a, b = number[place], number[place + 1]
    assume(a != b)
    wrong = number[:place] + b + a + number[place + 2 :]
    passes = checkdigit.mod10(wrong[:-1]) == wrong[-1]
    assert passes is (abs(int(a) - int(b)) == 5)


@given(numbers.articles | numbers.cards22 | numbers.sscs)
def test_formatting_and_parsing_are_each_others_reverse(text: str) -> None:
    number = identify(text)
    assert isinstance(number, TrackingNumber)
    module = MODULES[number.family.name]
    again = identify(module.format(text))
    assert isinstance(again, TrackingNumber)
    assert (again.text, again.family) == (text, number.family)
    assert module.compact(module.format(text)) == text
    assert printed(number) == module.format(text)
    assert "".join(part.text for part in number.parts) == text
    assert all(text[part.start :].startswith(part.text) for part in number.parts)


@given(numbers.articles | numbers.cards22)
def test_the_last_digit_is_the_one_that_is_calculated(text: str) -> None:
    number = identify(text)
    assert isinstance(number, TrackingNumber)
    module = MODULES[number.family.name]
    data, digit = (text[:10], text[10]) if len(text) == 13 else (text[:-1], text[-1])
    assert module.calc_check_digit(data) == digit


@given(st.text())
def test_nothing_makes_identify_or_the_verbs_raise(text: str) -> None:
    number = identify(text)
    assert isinstance(number, TrackingNumber | Rejection)
    for module in MODULES.values():
        assert module.is_valid(text) is isinstance(module.validate(text), TrackingNumber)
        module.compact(text)
        module.format(text)


@given(numbers.packages22 | numbers.packages26, numbers.digits(5) | numbers.digits(9))
def test_a_routing_prefix_with_its_separator_is_parted_for_certain(text: str, code: str) -> None:
    number = identify(f"]C1420{code}{GS}{text}")
    assert isinstance(number, TrackingNumber)
    assert (number.text, number.routing) == (text, code)


@given(numbers.packages22 | numbers.packages26, numbers.digits(5) | numbers.digits(9))
def test_without_separator_the_true_split_is_found_or_said_to_be_ambiguous(
    text: str, code: str
) -> None:
    number = identify(f"420{code}{text}")
    if isinstance(number, TrackingNumber):
        assert (number.text, number.routing) == (text, code)
    else:
        assert number.code == "ambiguous"
        assert text in number.message


def test_34_digits_that_can_be_parted_in_two_ways_are_refused_as_ambiguous() -> None:
    # Found by search: both remainders begin with a channel and pass mod-10 (handbook 1.2).
    text = "4205029092949428836075983867565087"
    for rest in (text[8:], text[12:]):
        assert rest[:2] in ("92", "94")
        assert ean.calc_check_digit(rest[:-1]) == rest[-1]
    number = identify(text)
    assert isinstance(number, Rejection)
    assert number.code == "ambiguous"
    assert "50290 and 92949428836075983867565087" in number.message
    assert "502909294 and 9428836075983867565087" in number.message


def test_a_routing_code_alone_is_routing_and_no_article() -> None:
    number = identify("420 94043")
    assert isinstance(number, TrackingNumber)
    assert (number.role, number.routing) == (Role.ROUTING, "94043")
    assert routing.format("420100233424") == "420 10023 3424"
    assert not routing.calc_check_digit("42094043")


@given(numbers.digits(19))
def test_the_two_conventions_of_20_digits_never_hold_together(data: str) -> None:
    """91 in front adds 9*3 + 1 = 28, so the two digits are two apart (handbook 1.6)."""
    bare = int(label20.calc_check_digit(data))
    with_91 = int(label20.calc_check_digit(data, with_ai91=True))
    assert (with_91 - bare) % 10 == 2


def test_plain_bars_refuse_the_convention_with_91_and_the_reverse() -> None:
    bare, with_91 = "70191640000008004105", "71969010756003077385"
    assert isinstance(identify(bare, aim="]C1"), Rejection)
    assert isinstance(identify(with_91, aim="]C0"), Rejection)
    for text, rule in ((bare, CheckRule.MOD10), (with_91, CheckRule.MOD10_AI91)):
        number = identify(text)
        assert isinstance(number, TrackingNumber)
        assert number.check_rule is rule
        assert [finding.code for finding in number.findings] == ["convention"]


@given(numbers.packages22)
def test_a_package_code_that_lost_two_digits_is_never_a_20_digit_label(text: str) -> None:
    """It may pass one of the two conventions; then it is doubted by its service code."""
    for cut in (text[:-2], text[2:], text[:10] + text[12:]):
        number = identify(cut)
        if isinstance(number, TrackingNumber) and number.role is Role.ARTICLE:
            assert number.family is label20.FAMILY
            if cut[:2] in label20.SERVICES:
                continue  # looks like any other label of that service
            assert Weight.DOUBT in {finding.weight for finding in number.findings}


def test_role_comes_from_the_prefix() -> None:
    # Public record (card) and the observed label family; both 22 digits, both mod-10.
    assert identify("9590940258780038231151").role is Role.CARD  # type: ignore[union-attr]
    label = identify(numbers.with_mod10("958907105270000000001"))
    assert isinstance(label, TrackingNumber)
    assert (label.family.name, label.role) == ("label22", Role.ARTICLE)


def test_a_card_with_another_prefix_warns_and_is_accepted() -> None:
    number = identify("9590490258780038231151")
    assert isinstance(number, TrackingNumber)
    assert [finding.code for finding in number.findings] == ["card-prefix-unusual"]


def test_the_published_example_that_breaks_the_mailer_rule_is_accepted_with_a_warning() -> None:
    number = identify("9374890100000003985039")  # BCOCA Reference
    assert isinstance(number, TrackingNumber)
    assert [finding.code for finding in number.findings] == ["mailer-range"]


def test_s10_folding() -> None:
    # UPU S10-12: 10 is written 0, 11 is written 5 (examples in zint's tests).
    assert s10.calc_check_digit("AB12310000") == "0"
    assert s10.calc_check_digit("AB00000000") == "5"


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("9780471117094", "ISBN"),  # python-stdnum, stdnum/ean.py
        ("1234-5679", "ISSN"),  # ISSN International Center's sample
        ("73513537", "EAN-8"),  # python-stdnum, stdnum/ean.py
        ("0123409876543210987612345678901", "IMb"),  # USPS-B-3200 sample shape, from memory
    ],
)
def test_other_numbers_are_named(text: str, named: str) -> None:
    number = identify(text)
    assert isinstance(number, Rejection)
    assert number.code == "other-kind"
    assert named in number.message


def test_retail_bars_are_refused_whatever_they_say() -> None:
    number = identify("9374890100000003985039", aim="]E0")
    assert isinstance(number, Rejection)
    assert number.code == "other-kind"


@pytest.mark.parametrize(
    ("text", "code", "positions"),
    [
        ("93748901O00000O3985039", "not-digits", (9, 15)),
        ("EE87654321GCA", "shape", (11,)),
        ("9374890100000003985038", "check-digit", (22,)),
        ("EE876543217CA", "check-digit", (11,)),
        ("937489010000000398503", "length", ()),
        ("", "empty", ()),
        ("8" * 200, "length", ()),
    ],
)
def test_a_rejection_says_what_and_where(text: str, code: str, positions: tuple[int, ...]) -> None:
    number = identify(text)
    assert isinstance(number, Rejection)
    assert (number.code, number.positions) == (code, positions)
    assert number.message.endswith(".")
    assert number.action


@pytest.mark.parametrize(
    ("data", "rule", "total"),
    [
        # Sums worked by hand in the handbook, 1.3 and 5.
        ("937489010000000398503", CheckRule.MOD10, 151),
        ("940011120108080548301", CheckRule.MOD10, 94),
        ("7112345678912345678", CheckRule.MOD10, 193),
        ("959094025878003823115", CheckRule.MOD10, 189),
        ("7019164000000800410", CheckRule.MOD10, 75),
        ("0112345678900000001", CheckRule.MOD10_AI91, 127),
        ("47312482", CheckRule.S10_MOD11, 200),
        ("87654321", CheckRule.S10_MOD11, 192),
    ],
)
def test_check_digits_are_worked_out_as_published(data: str, rule: CheckRule, total: int) -> None:
    work = checkdigit.work_out(data, rule)
    assert work is not None
    assert sum(work.products) == total
    assert str(total) in " ".join(work.lines)


def test_a_routing_code_has_no_check_digit() -> None:
    # GS1 General Specifications, AI 420: the postal code alone.
    assert routing.calc_check_digit("42094043") == ""


def test_a_reserved_service_indicator_is_named_with_its_two_letters() -> None:
    # UPU S10: indicators that begin with X are reserved.
    number = s10.validate("XA123456785GB")
    assert isinstance(number, TrackingNumber)
    (finding,) = number.findings
    assert dict(finding.parameters)["service"] == "XA"
    assert finding.positions == (1, 2)


def test_every_letter_may_be_in_an_s10_numbers_letters() -> None:
    # UPU S10-12: two letters, nine digits, two letters. Only the G among the digits is wrong.
    number = s10.validate("ZA12345678GAZ")
    assert isinstance(number, Rejection)
    assert (number.code, number.positions) == ("shape", (11,))
    number = s10.validate("1Z123456785ZZ")
    assert isinstance(number, Rejection)
    assert number.positions == (1,)


def test_ascii_among_other_scripts_is_cleaned_as_it_is_alone() -> None:
    # U+FF19 and U+FF12 are full-width digits (Unicode, Halfwidth and Fullwidth Forms).
    assert texts.compact("\uff19\uff1200 (1)-2") == "920012"
    # U+0663 is the Arabic-Indic digit three, U+FF21 a full-width A.
    assert texts.compact("\u0663\uff21") == "3A"

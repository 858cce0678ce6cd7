"""Wedge lines. Conventions of scanners: handbook section 7 (makers' forums and manuals)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.findings import Weight
from pairing.model import Rejection, Scan, TrackingNumber
from pairing.wedge import WedgeSetup, parse_keyed, parse_line
from tests.numbers import strategies as numbers

GS = "\x1d"
PACKAGE = "9374890100000003985039"  # BCOCA Reference, IMpb example
CARD = "9590940258780038231151"  # NC DEQ public record NOV-2020-DV-0495
LABEL = "70191640000008004105"  # public record, retail label
S10 = "EE876543216CA"  # UPU S10-12 Annex A

# The digit row of a French keyboard without Shift, from memory.
AZERTY = str.maketrans("1234567890", "&é\"'(-è_çà")


def codes(scan: Scan) -> list[str]:
    return [finding.code for finding in scan.findings]


def one(line: str, **setup: tuple[str, ...]) -> Scan:
    (scan,) = parse_line(line, WedgeSetup(**setup))
    return scan


def number(scan: Scan) -> TrackingNumber:
    assert isinstance(scan.number, TrackingNumber), scan.number
    return scan.number


@pytest.mark.parametrize("end", ["\r\n", "\n", "\r", "\t", ""])
@pytest.mark.parametrize("blanks", ["", "  ", "\xa0"])
def test_terminators_and_blanks(end: str, blanks: str) -> None:
    scan = one(f"{blanks}{PACKAGE}{blanks}{end}")
    assert number(scan).text == PACKAGE
    assert not codes(scan)


def test_groups_of_four() -> None:
    assert number(one("9374 8901 0000 0003 9850 39")).text == PACKAGE


@pytest.mark.parametrize(("prefix", "aim"), [("]C0", "]C0"), ("]C1", "]C1"), ("", "")])
def test_symbology_identifiers(prefix: str, aim: str) -> None:
    scan = one(prefix + PACKAGE)
    assert (scan.aim, number(scan).text) == (aim, PACKAGE)


@pytest.mark.parametrize(
    ("line", "setup", "said"),
    [
        (f"]C142021234{GS}{PACKAGE}", {}, []),
        (f"]C142021234<GS>{PACKAGE}", {"gs_substitutes": ("<GS>",)}, []),
        (f"42021234~{PACKAGE}", {"gs_substitutes": ("<GS>", "~")}, []),
        (f"42021234029{PACKAGE}", {}, ["separator-as-digits"]),
        (f"02942021234029{PACKAGE}", {}, ["separator-as-digits"]),
        (f"029{PACKAGE}", {}, ["separator-as-digits"]),
        (f"420212345678029{PACKAGE}", {}, ["separator-as-digits"]),
    ],
)
def test_group_separators(line: str, setup: dict[str, tuple[str, ...]], said: list[str]) -> None:
    scan = one(line, **setup)
    assert number(scan).text == PACKAGE
    assert codes(scan) == said


@given(numbers.packages22 | numbers.packages26, numbers.digits(5) | numbers.digits(9))
def test_a_separator_typed_as_digits_never_ends_up_in_a_number(text: str, code: str) -> None:
    for scan in parse_line(f"420{code}029{text}"):
        if isinstance(scan.number, TrackingNumber):
            assert scan.number.text == text
        else:
            assert "029" not in scan.suggested


@pytest.mark.parametrize(
    ("line", "texts"),
    [
        (PACKAGE + CARD, [PACKAGE, CARD]),
        (CARD + LABEL, [CARD, LABEL]),
        (S10 + CARD, [S10, CARD]),
        (f"]C1{PACKAGE}]C0{CARD}", [PACKAGE, CARD]),
        (f"42021234{GS}{PACKAGE}{CARD}", [PACKAGE, CARD]),
        (PACKAGE + CARD + LABEL, [PACKAGE, CARD, LABEL]),
    ],
)
def test_scans_that_ran_together_are_split_and_said(line: str, texts: list[str]) -> None:
    scans = parse_line(line)
    assert [number(scan).text for scan in scans] == texts
    assert all("run-together" in codes(scan) for scan in scans)


def test_a_terminator_inside_the_line_parts_scans_without_a_word() -> None:
    scans = parse_line(f"{PACKAGE}\r{CARD}\r")
    assert [number(scan).text for scan in scans] == [PACKAGE, CARD]
    assert not any(codes(scan) for scan in scans)


@pytest.mark.parametrize("text", [PACKAGE, S10, PACKAGE[:-1] + "8"])
def test_a_double_read_counts_once(text: str) -> None:
    scan = one(text + text)
    assert scan.text == text
    assert codes(scan) == ["double-read"]


def test_run_together_and_read_twice() -> None:
    scans = parse_line(PACKAGE + PACKAGE + CARD)
    assert [scan.text for scan in scans] == [PACKAGE, CARD]
    assert codes(scans[0]) == ["run-together", "double-read"]
    assert codes(scans[1]) == ["run-together"]


@pytest.mark.parametrize(
    "text", [PACKAGE[:-3], PACKAGE[:-4], LABEL[:-1], S10[:-2], f"42021234{PACKAGE[:-2]}"]
)
def test_a_truncated_scan_is_said_and_is_no_number(text: str) -> None:
    scan = one(text)
    assert isinstance(scan.number, Rejection)
    assert "truncated" in codes(scan)
    assert scan.findings[-1].weight is Weight.DOUBT


@pytest.mark.parametrize("text", [PACKAGE, CARD, LABEL, "]C1" + PACKAGE])
def test_azerty_is_recognized_mapped_and_reported(text: str) -> None:
    typed = text.replace("]", "$").translate(AZERTY)
    scan = one(typed)
    assert number(scan).text == text.removeprefix("]C1")
    assert codes(scan) == ["layout-azerty"]
    assert "keyboard" in scan.findings[0].action


def test_s10_on_azerty_has_its_letters_put_right() -> None:
    # RA…ZW typed on a French keyboard: A and Q, Z and W change places (from memory).
    text = numbers.s10_of("RA", "47312482", "ZW")
    typed = text.translate(AZERTY).translate(str.maketrans("AZWQ", "QWZA"))
    assert number(one(typed)).text == text


def test_qwertz_shows_in_the_symbology_identifier() -> None:
    text = numbers.s10_of("RY", "47312482", "NZ")
    scan = one("+C0" + text.translate(str.maketrans("YZ", "ZY")))
    assert (scan.aim, number(scan).text) == ("]C0", text)
    assert codes(scan) == ["layout-qwertz"]


def test_caps_lock_turns_the_identifier_over() -> None:
    scan = one(f"]c1{PACKAGE}")
    assert (scan.aim, number(scan).text, codes(scan)) == ("]C1", PACKAGE, ["caps-lock"])


def test_every_character_as_a_keypad_code() -> None:
    scan = one("".join(f"{ord(char):03d}" for char in f"42021234{GS}{PACKAGE}"))
    assert (number(scan).text, number(scan).routing) == (PACKAGE, "21234")
    assert codes(scan) == ["keypad-codes"]


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        (PACKAGE.replace("0", "O"), PACKAGE),
        (PACKAGE.replace("8", "B").replace("5", "S"), PACKAGE),
        (CARD.replace("1", "I"), CARD),
        ("EEB7654321GCA".replace("G", "6"), S10),
    ],
)
def test_letters_for_digits_are_a_question_and_never_an_answer(typed: str, meant: str) -> None:
    for scan in (one(typed), parse_keyed(typed)):
        assert isinstance(scan.number, Rejection)
        assert scan.suggested == meant
        assert codes(scan) == ["letters-for-digits"]
        assert scan.findings[0].message.startswith("Does the item itself show")
        assert scan.findings[0].weight is Weight.DOUBT


def test_no_question_where_the_answer_would_be_no_number_either() -> None:
    assert not one(PACKAGE.replace("0", "O", 1)[:-1] + "8").suggested


@pytest.mark.parametrize("zero", [0xFF10, 0x0660, 0x0966], ids=["full-width", "Arabic", "Hindi"])
def test_digits_of_other_scripts(zero: int) -> None:
    # Unicode: the ten digits of a script follow each other.
    scan = one("".join(chr(zero + int(digit)) for digit in PACKAGE))
    assert number(scan).text == PACKAGE
    assert codes(scan) == ["unicode-digits"]


def test_control_characters_are_left_out_and_said() -> None:
    scan = one(f"\x02{PACKAGE}\x03")
    assert (number(scan).text, codes(scan)) == (PACKAGE, ["control-characters"])


@pytest.mark.parametrize("line", ["", "   ", "\r\n", "\t\t"])
def test_a_blank_line_has_no_scan(line: str) -> None:
    assert parse_line(line) == ()


@given(st.text())
def test_arbitrary_text_never_raises(line: str) -> None:
    for scan in parse_line(line, WedgeSetup(gs_substitutes=("~", ""))):
        assert scan.text is not None
        assert isinstance(scan.number, TrackingNumber | Rejection)
    parse_keyed(line)


@given(st.text("0123456789]C029\x1d\r\n\t &é\"'(-è_çà$+OISBRR", max_size=120))
def test_nearly_right_text_never_raises(line: str) -> None:
    parse_line(line)
    parse_keyed(line)


@given(numbers.articles | numbers.cards22)
def test_one_clean_scan_is_one_scan(text: str) -> None:
    scan = one(text)
    assert number(scan).text == text
    assert not codes(scan)


@given(numbers.articles, numbers.cards22)
def test_any_label_and_card_that_ran_together_come_apart(label: str, card: str) -> None:
    """Or, where another cut gives two numbers as well, are refused: never cut wrongly."""
    scans = parse_line(label + card)
    if len(scans) == 1:
        assert isinstance(scans[0].number, Rejection)
    else:
        assert [scan.text for scan in scans] == [label, card]


def test_a_keyed_box_that_lacks_a_digit_is_read_as_it_is() -> None:
    scan = parse_keyed(PACKAGE[:-1])
    assert (scan.text, codes(scan)) == (PACKAGE[:-1], [])


def test_a_keyed_box_is_never_split() -> None:
    assert isinstance(parse_keyed(PACKAGE + CARD).number, Rejection)


def test_an_endless_line_is_refused_unread() -> None:
    scan = one("1" * 5_000_000)
    assert isinstance(scan.number, Rejection)
    assert "5000000 characters" in scan.number.message
    assert len(scan.raw) < 100
    assert isinstance(parse_keyed("1" * 5_000_000).number, Rejection)


@pytest.mark.parametrize(
    "typed",
    [
        PACKAGE[:8] + "?" + PACKAGE[9:],
        PACKAGE[:8] + "_" + PACKAGE[9:],
        "No. " + PACKAGE,
        PACKAGE.replace("0", "½", 1),
        "x" + PACKAGE,
    ],
)
def test_a_keyed_box_with_something_illegible_is_not_told(typed: str) -> None:
    scan = parse_keyed(typed)
    assert isinstance(scan.number, Rejection)
    assert codes(scan) == ["keyed-illegible"]
    assert scan.findings[0].weight is Weight.DOUBT


@pytest.mark.parametrize("prefix", ["42021234", "]C1", "(420) 21234 "])
def test_a_prefix_is_never_keyed(prefix: str) -> None:
    assert codes(parse_keyed(prefix + PACKAGE)) == ["keyed-with-prefix"]


def test_typewriter_letters_are_asked_about() -> None:
    assert parse_keyed(CARD.replace("1", "l")).suggested == CARD


def test_blanks_in_front_do_not_hide_what_a_keyboard_did() -> None:
    for blanks in ("", " ", "\xa0", "  \xa0"):
        scan = one(f"{blanks}]c0{PACKAGE}")
        assert (scan.aim, number(scan).text, codes(scan)) == ("]C0", PACKAGE, ["caps-lock"])


@pytest.mark.parametrize("letters", ["LX", "EB", "SI", "OO"])
def test_the_letters_of_an_s10_number_are_never_asked_about(letters: str) -> None:
    text = f"{letters}473124829IL"  # UPU S10-12, the standard's own serial
    assert number(one(text)).text == text
    assert not one(text.replace("3", "T")).suggested
    scan = one(text.replace("1", "I"))
    assert scan.suggested == text
    (asked,) = [one for one in scan.findings if one.code == "letters-for-digits"]
    assert asked.positions == (6,)
    assert "1 where the letter I was typed (place 6)" in asked.message

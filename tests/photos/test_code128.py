"""Code 128 tables and rules against published symbols and two other implementations."""

from __future__ import annotations

import barcode.charsets.code128
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reportlab.graphics.barcode import code128 as reportlab_code128

from pairing.model import GS
from pairing.photos.code128 import encoding

# ISO/IEC 15417:2007 Annex A.1; GS1 General Specifications 21.0.1 figures 6.6.5-5,
# 5.4.2-1 and 5.1-3 (all as cited in zint's test_code128.c); Wikipedia "Code 128".
PUBLISHED = [
    ("AIM1234", "]C0", (104, 33, 41, 45, 99, 12, 34), 87),
    ("HI345678", "]C0", (103, 40, 41, 99, 34, 56, 78), 67),
    ("PJJ123C", "]C0", (103, 48, 42, 42, 17, 18, 19, 35), 54),
    ("42087109", "]C1", (105, 102, 42, 8, 71, 9), 26),
    ("00395123451234567895", "]C1", (105, 102, 0, 39, 51, 23, 45, 12, 34, 56, 78, 95), 96),
    ("0109501101530003", "]C1", (105, 102, 1, 9, 50, 11, 1, 53, 0, 3), 71),
]


@pytest.mark.parametrize(("text", "aim", "values", "check"), PUBLISHED)
def test_published_symbols(text: str, aim: str, values: tuple[int, ...], check: int) -> None:
    assert encoding.check_value(values) == check
    message = encoding.message_of((*values, check))
    assert message is not None
    assert (message.text, message.aim) == (text, aim)
    shortest = encoding.shortest_values(text, aim=aim)
    assert shortest is not None
    assert len(shortest) <= len(values)


def test_table_is_python_barcodes() -> None:
    for value, widths in enumerate(encoding.WIDTHS):
        bits = "".join("10"[i % 2] * int(w) for i, w in enumerate(widths))
        assert bits == barcode.charsets.code128.CODES[value]


def test_table_is_reportlabs() -> None:
    for value, letters in reportlab_code128._patterns.items():
        widths = "".join(str(ord(letter.lower()) - ord("a") + 1) for letter in letters)
        expected = encoding.STOP_WIDTHS if value == 106 else encoding.WIDTHS[value]
        assert widths == expected


@pytest.mark.parametrize("wrong", range(103))
def test_one_wrong_character_never_passes(wrong: int) -> None:
    # mod 103 is prime: a single wrong value below the 103rd place always shows.
    right = (105, 102, 42, 8, 71, 9, 26)
    for place in range(1, 7):
        spoiled = list(right)
        spoiled[place] = wrong
        if tuple(spoiled) != right:
            assert encoding.message_of(spoiled) is None


@given(st.text(st.characters(min_codepoint=32, max_codepoint=126), min_size=1, max_size=40))
@settings(max_examples=200, deadline=None)
def test_reportlabs_values_say_the_text(text: str) -> None:
    symbol = reportlab_code128.Code128(text)
    symbol.validate()
    symbol.encode()
    message = encoding.message_of(symbol.encoded[:-1])
    assert message is not None
    assert (message.text, message.aim) == (text, "]C0")


@given(
    st.text(
        st.characters(min_codepoint=0, max_codepoint=126, exclude_characters=GS),
        min_size=1,
        max_size=40,
    ),
    st.sampled_from(["]C0", "]C1"]),
)
@settings(max_examples=200, deadline=None)
def test_shortest_values_say_the_text(text: str, aim: str) -> None:
    values = encoding.shortest_values(text, aim=aim)
    assert values is not None
    message = encoding.message_of((*values, encoding.check_value(values)))
    assert message is not None
    assert (message.text, message.aim) == (text, aim)


def test_separator_between_fields() -> None:
    text = f"42012345{GS}9374890100000003985039"
    values = encoding.shortest_values(text, aim="]C1")
    # IBM/AFP "Bar Code Object Content Architecture Reference", Code 128 modifier X'06':
    # Start C, FNC1, 420 + ZIP, FNC1, package code.
    assert values is not None
    assert values[:2] == (105, 102)
    assert values.count(102) == 2
    message = encoding.message_of((*values, encoding.check_value(values)))
    assert message is not None
    assert (message.text, message.aim) == (text, "]C1")


def test_known_lengths() -> None:
    # 22 digits with FNC1: start, FNC1, 11 pairs, check, stop = 15 characters; the stop
    # has 13 modules (ISO/IEC 15417 4.3.2), so 14 x 11 + 13.
    assert encoding.shortest_modules("9374890100000003985039", aim="]C1") == 14 * 11 + 13
    assert encoding.shortest_modules("71123456789123456787") == 12 * 11 + 13


def test_fnc4_letters() -> None:
    # Start B, FNC4 (value 100 in set B), value 83 = "s": 0x73 + 128 = "ó" in ISO 8859-1.
    values = (104, 100, 83)
    message = encoding.message_of((*values, encoding.check_value(values)))
    assert message is not None
    assert message.text == "ó"


@pytest.mark.parametrize(
    "values",
    [
        (106, 1, 1),  # no start
        (105, 103, 5),  # a start character inside
        (104, 96, 33),  # FNC3 programs a reader
        (104, 33, 98),  # a shift with nothing after it
        (104,),
    ],
)
def test_broken_symbols_say_nothing(values: tuple[int, ...]) -> None:
    assert encoding.message_of((*values, encoding.check_value(values))) is None

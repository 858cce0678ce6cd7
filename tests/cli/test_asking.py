"""Answers to what the reader could not read, as they are typed."""

from __future__ import annotations

import io
import sys

import click
import pytest

from counterfoil import asking


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch):  # type: ignore[no-untyped-def]
    def put(text: str) -> None:
        monkeypatch.setattr(sys, "stdin", io.StringIO(text))

    return put


@pytest.mark.parametrize(
    ("line", "answer"),
    [
        ("77\n", "77"),
        (" 1 2 3 \n", "123"),
        ("-\n", ""),
        ("\n", None),
        ("?\n", None),
        ("gb\n", "GB"),
    ],
)
def test_a_stretch_is_answered_with_all_that_stands_in_it(typed, line, answer) -> None:  # type: ignore[no-untyped-def]
    typed(line)
    assert asking._typed("what? ") == answer


@pytest.mark.parametrize("nonsense", ["1.2", "123456789", "12\x1b[2J", "é"])
def test_nonsense_is_asked_again(typed, nonsense, capsys) -> None:  # type: ignore[no-untyped-def]
    typed(f"{nonsense}\n45\n")
    assert asking._typed("what? ") == "45"
    assert "Only what the picture shows" in capsys.readouterr().err


def test_the_end_of_input_ends_the_asking(typed) -> None:  # type: ignore[no-untyped-def]
    for ask in (asking._typed, lambda q: asking._key(q, is_letter=False)):
        typed("")
        with pytest.raises(click.Abort):
            ask("what? ")


def test_a_letters_place_takes_a_letter_and_a_digits_place_a_digit(typed, capsys) -> None:  # type: ignore[no-untyped-def]
    typed("7\ng\n")
    assert asking._key("what? ", is_letter=True) == "G"
    typed("g\n7\n")
    assert asking._key("what? ", is_letter=False) == "7"
    said = capsys.readouterr().err
    assert "One key from A to Z" in said
    assert "One key from 0 to 9" in said

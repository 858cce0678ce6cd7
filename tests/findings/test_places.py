"""Words for places in a printed number."""

from __future__ import annotations

from collections.abc import Iterable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.errors import CounterfoilError
from pairing.findings.wording import places
from pairing.findings.wording.plurals import counted, listed, unit
from pairing.numbers.grouping import groups, sizes

FOURS, S10 = (4,), (2, 3, 3, 3, 2)


def place(
    positions: Iterable[int], n: int, group_sizes: tuple[int, ...], noun: str = "digit"
) -> str:
    return places.place(positions, sizes(n, group_sizes), noun=noun)


def spot(position: int, n: int, group_sizes: Iterable[int]) -> str:
    return places.spot(position, sizes(n, tuple(group_sizes)))


@pytest.mark.parametrize(
    ("positions", "words"),
    [
        ((), ""),
        ((14,), "group 4, digit 2"),
        ((14, 15), "group 4, digits 2 and 3"),
        ((15, 14, 14), "group 4, digits 2 and 3"),
        ((14, 15, 16), "group 4, digits 2 to 4"),
        ((13, 14, 16), "group 4, digits 1, 2 and 4"),
        ((4, 5), "group 1, digit 4 and group 2, digit 1"),
        ((4, 5, 6), "group 1, digit 4 to group 2, digit 2"),
        ((13, 14, 15, 16), "group 4"),
        ((21, 22), "group 6"),
        ((5, 6, 7, 8, 9, 10, 11, 12), "groups 2 and 3"),
        ((5, 6, 7, 8, 13, 14, 15, 16), "groups 2 and 4"),
        (range(9, 23), "groups 3 to 6"),
        (range(9, 22), "group 3, digit 1 to group 6, digit 1"),
        ((1, 6, 11), "group 1, digit 1; group 2, digit 2 and group 3, digit 3"),
        ((1, 5, 6, 7, 8), "group 1, digit 1 and group 2"),
        ((1, 3, 9), "group 1, digits 1 and 3 and group 3, digit 1"),
        (range(1, 23), "the whole number"),
    ],
)
def test_words_for_places(positions: tuple[int, ...], words: str) -> None:
    assert place(positions, 22, FOURS) == words


def test_s10_speaks_of_characters() -> None:
    assert unit("EE876543216CA") == "character"
    assert unit("7019") == "digit"
    assert unit("") == unit("\u0664") == "character"
    assert place((3, 12), 13, S10, noun="character") == (
        "group 2, character 1 and group 5, character 1"
    )


def test_a_group_of_one_is_called_by_its_digit() -> None:
    assert place((5,), 5, FOURS) == "group 2, digit 1"
    assert place((1,), 1, FOURS) == "group 1, digit 1"


@pytest.mark.parametrize("position", [0, -1, 23])
def test_places_outside_the_number(position: int) -> None:
    with pytest.raises(CounterfoilError):
        place((position,), 22, FOURS)
    with pytest.raises(CounterfoilError):
        spot(position, 22, FOURS)


@given(st.data(), st.integers(1, 34), st.lists(st.integers(1, 5), min_size=1, max_size=5))
def test_a_single_place_can_be_found_again(data: st.DataObject, n: int, cut: list[int]) -> None:
    position = data.draw(st.integers(1, n))
    text = "".join("x" if i == position else "." for i in range(1, n + 1))
    group, digit = (int(part.split()[-1]) for part in spot(position, n, cut).split(","))
    assert groups(text, cut)[group - 1][digit - 1] == "x"


@given(st.integers(1, 34), st.data())
def test_words_for_any_places(n: int, data: st.DataObject) -> None:
    positions = data.draw(st.sets(st.integers(1, n), min_size=1))
    words = place(positions, n, FOURS)
    assert words.startswith(("group", "the whole"))


def test_plurals_go_by_rule() -> None:
    assert [counted(n, "card") for n in (0, 1, 2)] == ["0 cards", "1 card", "2 cards"]
    assert counted(1, "entry", "entries") == "1 entry"
    assert counted(3, "entry", "entries") == "3 entries"


def test_lists_are_read_as_sentences() -> None:
    assert [listed(["a", "b", "c"][:n]) for n in range(4)] == ["", "a", "a and b", "a, b and c"]
    assert listed(["a", "b, c", "d"], "or") == "a; b, c or d"

"""Printed grouping. Groups of four: BCOCA, modifier X'06'. 2-3-3-3-2: UPU S10-12, section 8."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.errors import CounterfoilError
from pairing.numbers.grouping import groups, place, spaced, spot, unit

FOURS, S10 = (4,), (2, 3, 3, 3, 2)


def test_printed_examples() -> None:
    # "9590 9402 5878 0038 2311 51" as printed on the card of NC DEQ record NOV-2020-DV-0495
    assert spaced("9590940258780038231151", FOURS) == "9590 9402 5878 0038 2311 51"
    # "EE 876 543 216 CA": UPU S10-12 Annex A
    assert groups("EE876543216CA", S10) == ("EE", "876", "543", "216", "CA")


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


def test_a_group_without_characters_is_refused() -> None:
    with pytest.raises(CounterfoilError, match="size of at least 1"):
        groups("1234", (2, 0))


@given(st.text(max_size=40), st.lists(st.integers(1, 6), max_size=6))
def test_groups_add_up(text: str, sizes: list[int]) -> None:
    cut = groups(text, sizes)
    assert "".join(cut) == text
    assert all(cut)
    for index, group in enumerate(cut[:-1]):
        assert len(group) == (sizes[min(index, len(sizes) - 1)] if sizes else len(text))


@given(st.data(), st.integers(1, 34), st.lists(st.integers(1, 5), min_size=1, max_size=5))
def test_a_single_place_can_be_found_again(data: st.DataObject, n: int, sizes: list[int]) -> None:
    position = data.draw(st.integers(1, n))
    text = "".join("x" if i == position else "." for i in range(1, n + 1))
    group, digit = (int(part.split()[-1]) for part in spot(position, n, sizes).split(","))
    assert groups(text, sizes)[group - 1][digit - 1] == "x"


@given(st.integers(1, 34), st.data())
def test_words_for_any_places(n: int, data: st.DataObject) -> None:
    positions = data.draw(st.sets(st.integers(1, n), min_size=1))
    words = place(positions, n, FOURS)
    assert words.startswith(("group", "the whole"))

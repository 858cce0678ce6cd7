"""Printed grouping. Groups of four: BCOCA, modifier X'06'. 2-3-3-3-2: UPU S10-12, section 8."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.errors import CounterfoilError
from pairing.numbers.grouping import bounds, groups, sizes, spaced

FOURS, S10 = (4,), (2, 3, 3, 3, 2)


def test_printed_examples() -> None:
    # "9590 9402 5878 0038 2311 51" as printed on the card of NC DEQ record NOV-2020-DV-0495
    assert spaced("9590940258780038231151", FOURS) == "9590 9402 5878 0038 2311 51"
    # "EE 876 543 216 CA": UPU S10-12 Annex A
    assert groups("EE876543216CA", S10) == ("EE", "876", "543", "216", "CA")


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


@given(st.integers(0, 40), st.lists(st.integers(1, 6), max_size=6))
def test_bounds_are_the_groups(n: int, by: list[int]) -> None:
    text = "".join(chr(ord("A") + i) for i in range(n))
    assert tuple(text[start:end] for start, end in bounds(n, by)) == groups(text, by)
    assert sizes(n, by) == tuple(len(group) for group in groups(text, by))

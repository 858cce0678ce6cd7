"""Alignments against a plain recursive edit distance (Levenshtein 1966)."""

from __future__ import annotations

from functools import cache
from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from pairing.compare.alignment import aligned, shifted_by_one

SHORT = st.text("012", max_size=9)


def distance(a: str, b: str) -> int:
    @cache
    def of(i: int, j: int) -> int:
        if not i or not j:
            return i + j
        return min(of(i - 1, j) + 1, of(i, j - 1) + 1, of(i - 1, j - 1) + (a[i - 1] != b[j - 1]))

    return of(len(a), len(b))


@given(SHORT, SHORT)
def test_alignments_are_minimal_and_respell_both(a: str, b: str) -> None:
    columns = aligned(a, b)
    assert sum(not column.same for column in columns) == distance(a, b)
    assert "".join(column.label or "" for column in columns) == a
    assert "".join(column.box or "" for column in columns) == b


def test_alignments_of_all_short_texts_are_minimal() -> None:
    every = ["".join(one) for n in range(5) for one in product("01", repeat=n)]
    every += ["".join(one) for n in range(4) for one in product("012", repeat=n)]
    for a, b in product(every, repeat=2):
        assert sum(not column.same for column in aligned(a, b)) == distance(a, b), (a, b)


@given(st.text("01", min_size=1, max_size=12), st.data())
def test_a_gap_stands_at_the_first_of_its_run(a: str, data: st.DataObject) -> None:
    lost = data.draw(st.integers(0, len(a) - 1))
    columns = aligned(a, a[:lost] + a[lost + 1 :])
    (gap,) = [index for index, column in enumerate(columns) if column.box is None]
    first = next(i for i in range(len(a)) if a[i : lost + 1] == a[lost] * (lost + 1 - i))
    assert gap == first


@given(st.text("0123", min_size=3, max_size=10), st.data(), st.sampled_from("0123"))
def test_shifts_respell_both_with_two_gaps(a: str, data: st.DataObject, new: str) -> None:
    lost, at = (data.draw(st.integers(0, len(a) - 1)) for _ in range(2))
    left = a[:lost] + a[lost + 1 :]
    box = left[:at] + new + left[at:]
    columns = shifted_by_one(a, box, lost, at)
    assert "".join(column.label or "" for column in columns) == a
    assert "".join(column.box or "" for column in columns) == box
    assert [column.label is None or column.box is None for column in columns].count(True) == 2
    assert all(column.same for column in columns if column.label and column.box)


def test_texts_too_long_to_align_are_laid_side_by_side() -> None:
    for many, is_aligned in ((200, True), (400, False)):
        columns = aligned("12" * many, "21" * many)
        assert (len(columns) > 2 * many) is is_aligned

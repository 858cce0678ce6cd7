"""Entries as bytes, as columns and as CSV, for any entry."""

from __future__ import annotations

import io

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from pairing.errors import TableUnusable
from pairing.findings import Weight
from pairing.ledger import Entry, Kind
from pairing.ledger.csv_table import entries_of, rows
from pairing.ledger.entries import (
    COLUMNS,
    RecordedFinding,
    columns,
    decode,
    encode,
    found_by,
    members,
)
from pairing.model import Verdict
from tests.ledger.making import card, label, pair
from tests.ledger.strategies import entries, numbers

PLAIN = Entry(
    sequence=1,
    at="2026-03-02T09:00:00.000000Z",
    kind=Kind.PAIRED,
    desk="d",
    operator="o",
    previous="00" * 32,
    article=label(1),
    written=label(1),
    key="k",
    version=1,
)


USUAL = replace(
    PLAIN,
    card=card(1),
    verdict=Verdict.AGREES,
    readings=pair(1, 1).readings,
    findings=(
        RecordedFinding(weight=Weight.NOTE, code="box-keyed", message='x","kind":"paired","y":"'),
    ),
)
"""What nearly every entry of a ledger looks like."""


def agrees(found: dict[str, object], entry: Entry) -> bool:
    """Whether these columns are those that the verification takes from the entry's bytes."""
    return found_by(encode(entry)).columns() == tuple(found[name] for name in COLUMNS)


@given(entries)
def test_an_entrys_bytes_are_those_of_rfc_8785(entry: Entry) -> None:
    """Against the library that knows all of RFC 8785; the ledger's encoder is a faster one."""
    assert encode(entry) == rfc8785.dumps(members(entry))
    assert decode(encode(entry), where="here") == entry


@given(entries)
def test_an_entry_agrees_with_its_columns(entry: Entry) -> None:
    found = columns(entry)
    assert agrees(found, entry)


@pytest.mark.parametrize("key", ["", "k", 'k"', "k\\"])
def test_the_usual_entry_agrees_with_its_columns(key: str) -> None:
    entry = replace(USUAL, key=key)
    assert agrees(columns(entry), entry)


@given(entries, st.sampled_from(COLUMNS), st.none() | numbers | st.integers(0, 9), entries)
def test_no_entry_agrees_with_other_columns(
    entry: Entry, name: str, value: object, other: Entry
) -> None:
    found = columns(entry)
    for wrong in (value, columns(other)[name]):
        if wrong != found[name]:
            changed = {**found, name: wrong}
            assert not agrees(changed, entry)


@pytest.mark.parametrize(
    ("name", "wrong"),
    [
        ("card", '%s","desk":"d'),
        ("kind", '%s","operator":"o'),
        ("key", '%s","kind":"paired'),
        ("at", '%s","card":"None'),
        ("article", '%s","x":"'),
        ("card", ""),
        ("article", ""),
        ("elsewhere", ""),
        ("elsewhere", label(1)),
        ("key", ""),
        ("refers", 0),
        ("refers", 1),
        ("sequence", 2),
        ("kind", "note"),
        ("card", None),
        ("key", None),
        ("elsewhere", "x"),
        ("article", label(2)),
        ("at", "2026-03-02T09:00:00.000001Z"),
    ],
)
def test_a_column_cannot_reach_into_the_next_member(name: str, wrong: str | int) -> None:
    shapes: list[Entry] = [
        replace(PLAIN, card="None"),
        replace(PLAIN, card=None, written="None", article=None),
        USUAL,
        replace(USUAL, key=""),
    ]
    for entry in shapes:
        found = columns(entry)
        value = wrong % found[name] if isinstance(wrong, str) and "%" in wrong else wrong
        changed = {**found, name: value}
        if changed != found:
            assert not agrees(changed, entry)


@given(st.lists(entries, max_size=4))
def test_csv_comes_back_exactly(given_entries: list[Entry]) -> None:
    text = "".join(rows(given_entries))
    # Read as a file is that was opened with newline="".
    assert list(entries_of(io.StringIO(text, newline=""), where="here")) == given_entries


@given(entries)
def test_no_cell_of_the_csv_is_a_formula(entry: Entry) -> None:
    (_, *lines) = rows([replace(entry, operator="=1+1", remark="@x", desk="-x", key="+x")])
    assert ",'=1+1," in "".join(lines)
    assert ",'@x,'+x," in "".join(lines)


@given(entries)
def test_a_csv_with_another_cell_is_refused(entry: Entry) -> None:
    text = "".join(rows([replace(entry, operator="clerk 7", desk="desk")]))
    changed = io.StringIO(text.replace("clerk 7", "clerk 8"), newline="")
    with pytest.raises(TableUnusable, match="line"):
        list(entries_of(changed, where="here"))

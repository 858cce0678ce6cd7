"""The search: what it finds, by what, and what it does not. Nothing outside the project says what
a search must give, so the expectations here are the issue's own words (name, reference, number or
part of one, returned or not; nothing of what was erased) and a search by hand over all entries."""

from __future__ import annotations

import random
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from pairing.errors import LedgerUnusable
from pairing.ledger import Draft, Kind, Ledger, find_index, grams, schema
from pairing.ledger.database import Database
from pairing.numbers import printed
from tests.ledger.making import Clock, card, label, pair, returned

NAMED = {
    1: {"name": "Adaline Orrick", "address": "4 Weir Lane", "reference": "2026-CV-00417"},
    2: {"name": "José Peña"},
    3: {"name": "Łukasz Żak", "reference": "2026-CV-00418"},
    4: {"name": "Ольга Петрова"},
    5: {},
}
"""Invented names, in several scripts."""


def _found(ledger: Ledger, text: str) -> list[int]:
    return [hit.entry.sequence for hit in ledger.find(text)]


def _filled(url: str, clock: Clock) -> Ledger:
    ledger = Ledger.open(url, clock=clock)
    for number, particulars in NAMED.items():
        ledger.append(pair(number, number, particulars=particulars))
    return ledger


@pytest.mark.parametrize(
    ("text", "sequences"),
    [
        ("Orrick", [1]),
        ("orrick adaline", [1]),  # in any order
        ("RRIC", [1]),  # part of a name
        ("weir lane", [1]),
        ("pena", [2]),  # without its accents
        ("PEÑA", [2]),
        ("петров", [4]),
        ("00417", [1]),
        ("2026-cv", [3, 1]),  # the youngest first
        ("Orrick 00418", []),  # every term counts
        ("nobody", []),
        ("", []),
        ("o", []),  # would find nearly everything
        ("or", [1]),  # two letters: words that begin so
        ("ri", []),
        ("J Peña", [2]),
        ("ick", [1]),  # three letters: any part
        ("' NEAR \" *", []),
        (label(3), [3]),
        (printed(label(3)), [3]),
        (card(4), [4]),
        (label(2)[-4:], [2]),
        (card(5)[-6:], [5]),
        (label(2)[14:20], [5, 4, 3, 2, 1]),  # a stretch that all have in common
        (f"{label(5)[-6:-2]} {label(5)[-2:]}", [5]),  # as its printed groups
    ],
)
def test_what_is_found(url: str, clock: Clock, text: str, sequences: list[int]) -> None:
    with _filled(url, clock) as ledger:
        assert _found(ledger, text) == sequences


def test_a_piece_is_found_by_what_was_said_of_it_later(url: str, clock: Clock) -> None:
    with _filled(url, clock) as ledger:
        assert _found(ledger, "Tamsin") == []
        later = Draft(
            kind=Kind.NOTE, desk="", operator="", refers=5, article=label(5), card=card(5),
            particulars={"name": "Tamsin Weatherby"},
        )  # fmt: skip
        ledger.append(later)
        ledger.append(returned(5, 5, particulars={"signed by": "M. Ferrand"}))
        for text in ("Tamsin", f"weatherby {label(5)[-4:]}", "Ferrand"):
            (hit,) = ledger.find(text)
            assert (hit.entry.sequence, hit.state) == (5, "returned")
            assert hit.about == {"name": "Tamsin Weatherby", "signed by": "M. Ferrand"}
        assert ledger.about([1, 5]) == {1: NAMED[1], 5: {"name": "Tamsin Weatherby"}}


def test_stops_and_expected_pairs_are_found_until_the_piece_is_sealed(
    url: str, clock: Clock
) -> None:
    with Ledger.open(url, clock=clock) as ledger:
        expected = Draft(
            kind=Kind.EXPECTED, desk="", operator="", article=label(7), card=card(7),
            particulars={"name": "Ottilie Brandt"},
        )  # fmt: skip
        ledger.append(expected)
        assert [hit.state for hit in ledger.find("Ottilie")] == ["expected"]
        assert ledger.declared(article=label(7), card=None) == {"name": "Ottilie Brandt"}
        stop = replace(pair(7, 7), kind=Kind.STOPPED, verdict=None, written=None)
        ledger.append(replace(stop, particulars={"name": "Ottilie Brandt-Voss"}))
        said = {"name": "Ottilie Brandt-Voss"}
        assert ledger.declared(article=label(7), card=card(7)) == said
        assert ledger.declared(article=label(7), card=card(8)) == {"name": "Ottilie Brandt"}
        assert [hit.state for hit in ledger.find("Brandt-Voss")] == ["stopped"]
        ledger.append(pair(7, 7, particulars=said))
        assert [hit.state for hit in ledger.find("Brandt")] == ["open"]
        assert [hit.state for hit in ledger.find(label(7))] == ["open"]


def test_many_are_found_each_once_the_youngest_first(
    url: str, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Over several pages of candidates, and several stretches of a server's index."""
    monkeypatch.setattr(find_index, "_NEAR", 3)
    monkeypatch.setattr(find_index, "_STRETCH", 4)
    monkeypatch.setattr(find_index, "_STRETCHES", 2)
    with Ledger.open(url, clock=clock) as ledger:
        for number in range(1, 71):
            name = "Adaline Orrick" if number % 10 else "Corwin Haldane"
            ledger.append(pair(number, number, particulars={"name": name}))
        assert _found(ledger, "Orrick") == [one for one in range(70, 0, -1) if one % 10]
        assert _found(ledger, "Haldane") == [70, 60, 50, 40, 30, 20, 10]


def test_nothing_is_found_of_what_was_erased(url: str, clock: Clock) -> None:
    with _filled(url, clock) as ledger:
        assert _found(ledger, "Orrick") == [1]
        assert ledger.forget(card(1), desk="desk 1", operator="clerk 7") == 1
        for text in ("Orrick", "Adaline", "Weir", "00417"):
            assert _found(ledger, text) == []
        assert _found(ledger, label(1)) == [1]  # its numbers stay
        assert ledger.verify().is_clean


def test_what_was_erased_is_gone_from_the_file(tmp_path: Path, clock: Clock) -> None:
    """In the clear, and as the index's grams: SQLite keeps the terms of a deleted row until its
    segments are merged (FTS5's documentation, section 6)."""
    path = tmp_path / "ledger.db"
    with _filled(str(path), clock) as ledger:
        assert _found(ledger, "Orrick") == [1]
        ledger.append(pair(9, 9))
        assert _found(ledger, label(9)) == [6]
    # FTS5 writes what terms have in common once, so a whole gram need not stand in the file.
    assert b"Orrick" in path.read_bytes()
    assert _terms(path) >= {"worr", "vorric", "sor", "w417"}
    with Ledger.open(str(path), clock=clock) as ledger:
        assert ledger.forget(label(1), desk="", operator="") == 1
    data = path.read_bytes()
    assert b"Orrick" not in data
    assert not _terms(path) & {"worr", "vorric", "sor", "w417"}


def _terms(path: Path) -> set[str]:
    copy = path.with_suffix(".copy")
    shutil.copy(path, copy)
    # In this connection alone: the copy's log may outlive it, and be taken for the next copy's.
    with closing(sqlite3.connect(copy)) as connection:
        connection.execute(
            "CREATE VIRTUAL TABLE temp.terms USING fts5vocab('main', 'found', 'row')"
        )
        return {term for (term,) in connection.execute("SELECT term FROM terms")}


def test_erasing_reaches_what_was_said_later_and_what_the_list_said(url: str, clock: Clock) -> None:
    with Ledger.open(url, clock=clock) as ledger:
        said = {"name": "Corwin Haldane"}
        expected = Draft(
            kind=Kind.EXPECTED, desk="", operator="", article=label(1), particulars=said
        )
        ledger.append(expected)
        ledger.append(pair(1, 1, particulars=said))
        # The piece was corrected to another label meanwhile.
        ledger.append(pair(2, 1, kind=Kind.CORRECTED, refers=2))
        note = Draft(kind=Kind.NOTE, desk="", operator="", refers=2, particulars=said)
        ledger.append(note)
        assert ledger.forget(label(2), desk="", operator="") == 3
        assert _found(ledger, "Haldane") == []


def test_names_that_are_imported_later_are_found(tmp_path: Path, clock: Clock) -> None:
    with _filled(str(tmp_path / "first.db"), clock) as first:
        bare = list(first.export_lines())
        whole = list(first.export_lines(with_particulars=True))
    with Ledger.open(str(tmp_path / "second.db"), clock=clock) as second:
        second.import_lines(bare, where="bare")
        assert _found(second, "Orrick") == []
        second.import_lines(whole, where="whole")
        assert _found(second, "Orrick") == [1]


def _make_first_version(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute("DROP TABLE found")
    connection.execute("DROP TABLE find_reach")
    connection.execute("UPDATE alembic_version SET version_num = '0001'")
    connection.commit()
    connection.execute("PRAGMA journal_mode = DELETE")
    connection.close()


def test_an_index_of_before_is_made_anew(url: str, clock: Clock) -> None:
    with _filled(url, clock) as ledger:
        assert _found(ledger, "Orrick") == [1]
    engine = Database(url).engine
    with engine.begin() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '0002'")
    engine.dispose()
    with Ledger.open(url, clock=clock) as ledger:
        assert _found(ledger, "Orrick") == [1]


def test_a_ledger_of_the_first_version_is_given_an_index(tmp_path: Path, clock: Clock) -> None:
    path = tmp_path / "ledger.db"
    _filled(str(path), clock).close()
    _make_first_version(path)
    with Ledger.open(str(path), clock=clock) as ledger:
        assert _found(ledger, "Orrick") == [1]
        assert ledger.verify().is_clean


def test_an_older_ledger_that_may_only_be_read_is_read(
    tmp_path: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "ledger.db"
    _filled(str(path), clock).close()
    _make_first_version(path)

    def upgrade(_: object) -> None:
        raise LedgerUnusable("The ledger may only be read", where="", remedy="")

    monkeypatch.setattr(schema, "upgrade", upgrade)  # root may write everywhere
    with Ledger.open(str(path), clock=clock) as ledger:
        assert len(list(ledger.pieces())) == len(NAMED)
        with pytest.raises(LedgerUnusable, match="no index"):
            list(ledger.find("Orrick"))


@pytest.mark.parametrize("seed", range(3))
def test_the_index_gives_what_a_walk_over_all_entries_gives(
    tmp_path: Path, clock: Clock, seed: int
) -> None:
    chance = random.Random(seed)
    syllables = ("or", "rick", "ma", "lé", "ži", "ton", "17", "ham", "o")
    with Ledger.open(str(tmp_path / "ledger.db"), clock=clock) as ledger:
        texts = {}
        for number in range(1, 61):
            name = "".join(chance.choices(syllables, k=3)) + " " + chance.choice(syllables)
            ledger.append(pair(number * 7919, number, particulars={"name": name}))
            texts[number] = grams.Searched.of((label(number * 7919), card(number)), {"n": name})
        for _ in range(60):
            part = chance.choice(["".join(chance.choices(syllables, k=2)), label(7919 * 5)[-5:-1]])
            (sought,) = grams.sought(part)
            walked = {number for number, text in texts.items() if sought.is_in(text)}
            assert set(_found(ledger, part)) == walked

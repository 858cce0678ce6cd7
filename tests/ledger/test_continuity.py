"""What only something beside the entries can tell: heads and names that are gone."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from pairing.ledger import Kind, Ledger
from pairing.model import Verdict
from tests.ledger.making import Clock, label, pair
from tests.ledger.test_tampering import message_of, problem


@pytest.fixture
def days(tmp_path: Path) -> Path:
    """A closed ledger over three days, with two heads that were signed as days began."""
    place = tmp_path / "days.db"
    clock = Clock()
    with Ledger.open(str(place), clock=clock) as ledger:
        for number in range(1, 4):
            ledger.append(pair(number, number, particulars={"name": f"Invented {number}"}))
            clock.now += timedelta(days=1)
    return place


def changed(path: Path, *statements: str) -> None:
    """The database after these statements of somebody's tool."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        for statement in statements:
            connection.execute(statement)


def test_deleted_heads_are_found(days: Path) -> None:
    """Everything fitted before."""
    assert problem(days) is None
    changed(days, "DELETE FROM heads WHERE size = 1")
    assert problem(days) == (1, "heads")
    changed(days, "DELETE FROM heads", "DELETE FROM signers")
    assert problem(days) == (1, "heads")
    days.with_name("days.db.heads").unlink()
    assert problem(days) == (4, "heads")  # the key alone tells that there were some


def test_the_key_alone_tells_of_heads_however_many_entries_are_walked_at_once(
    days: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The days of the whole ledger count, not those of the last entries."""
    with Ledger.open(str(days)) as ledger:
        for number in range(11, 14):
            ledger.append(pair(number, number))
    changed(days, "DELETE FROM heads", "DELETE FROM signers")
    days.with_name("days.db.heads").unlink()
    for at_once in (1, 2, 1000):
        monkeypatch.setattr("pairing.ledger.verification._AT_ONCE", at_once)
        found = problem(days)
        assert found is not None
        assert found[1] == "heads"


def test_a_ledger_signed_anew_with_another_key_is_found(days: Path) -> None:
    """Everything fitted before: the new heads are genuine, by their own key."""
    changed(days, "DELETE FROM heads", "DELETE FROM signers")
    days.with_name("days.db.key").unlink()
    listed = days.with_name("days.db.heads")
    before = listed.read_bytes()
    with Ledger.open(str(days)) as ledger:
        ledger.sign_head()
    listed.write_bytes(before)  # the tamperer's own machine has a list of its own
    assert problem(days) == (1, "heads")


def test_names_that_are_gone_are_told_unless_they_were_erased(days: Path) -> None:
    with Ledger.open(str(days)) as ledger:
        assert ledger.verify().gone == ()
        assert ledger.forget(label(1), desk="d", operator="o") > 0
        assert ledger.verify().gone == ()
    changed(days, "DELETE FROM particulars WHERE sequence = 2")
    with Ledger.open(str(days)) as ledger:
        report = ledger.verify()
    assert report.is_clean
    assert report.gone == (2,)


def test_a_key_that_signs_is_named_by_an_entry_and_so_is_the_next(days: Path) -> None:
    """No entry said so before: whoever exchanged the key left no trace in the chain."""
    days.with_name("days.db.key").unlink()
    with Ledger.open(str(days)) as ledger:
        first = list(ledger.entries(kinds=[Kind.NOTE]))
        ledger.append(pair(9, 9))
        ledger.append(pair(10, 10))
        named = [one.key for one in ledger.entries(kinds=[Kind.NOTE])]
        report = ledger.verify()
    assert [one.sequence for one in first] == [3]
    assert named == [f"signing key {one}" for one in report.keys]
    assert len(named) == 2
    assert report.is_clean
    assert report.unrecorded == ()


def test_heads_signed_anew_are_found_without_the_list(days: Path) -> None:
    """The entries name the first key; everything fitted before."""
    with Ledger.open(str(days)) as ledger:
        (key,) = ledger.verify().keys
    changed(days, "DELETE FROM heads", "DELETE FROM signers")
    for name in ("days.db.key", "days.db.heads"):
        days.with_name(name).unlink()
    with Ledger.open(str(days)) as ledger:
        assert ledger.verify().unsigned == (key,)
        ledger.sign_head()
    days.with_name("days.db.heads").unlink()
    assert problem(days) == (3, "key")
    assert f"Entry 3 records that key {key[:16]} signed heads" in message_of(days)


def test_a_witness_file_finds_what_the_machine_itself_was_made_to_forget(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COUNTERFOIL_WITNESS", str(tmp_path / "disk"))
    place = tmp_path / "days.db"
    with Ledger.open(str(place), clock=Clock()) as ledger:
        assert [one.code for one in ledger.warnings()] == ["witness-missing"]
        (tmp_path / "disk").mkdir()
        assert ledger.warnings() == ()
        ledger.append(pair(1, 1))
        ledger.sign_head()
        assert ledger.verify().witnessed == 1
    changed(place, "DELETE FROM heads", "DELETE FROM signers")
    for name in ("days.db.key", "days.db.heads"):
        place.with_name(name).unlink()
    assert problem(place) == (1, "heads")
    monkeypatch.delenv("COUNTERFOIL_WITNESS")
    assert problem(place) is None


def test_kept_photos_are_held_against_what_was_stored(days: Path) -> None:
    with Ledger.open(str(days)) as ledger:
        digests = [ledger.keep_photo(content) for content in (b"first", b"second")]
    changed(days, f"DELETE FROM photos WHERE sha256 = '{digests[0]}'")
    with Ledger.open(str(days)) as ledger:
        report = ledger.verify()
    assert report.is_clean
    assert report.photos_gone == (digests[0],)
    changed(days, "UPDATE photos SET content = x'00'")
    found = problem(days)
    assert found is not None
    assert found[1] == "photo"


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ("DELETE FROM entries WHERE sequence = 4", "ledger-truncated"),
        ("UPDATE entries SET nodes = zeroblob(96) WHERE sequence = 4", "ledger-changed"),
        ("DELETE FROM heads", "ledger-changed"),
    ],
)
def test_tampering_stops_sealing_until_an_operator_goes_on(
    days: Path, change: str, code: str
) -> None:
    """It was said at the start, and pieces were sealed on."""
    changed(days, "DROP TRIGGER entries_no_update", "DROP TRIGGER entries_no_delete", change)
    with Ledger.open(str(days)) as desk, Ledger.open(str(days)) as other:
        assert [one.code for one in desk.warnings()] == [code]
        stopped = desk.append(pair(20, 20))
        assert not stopped.may_seal
        assert stopped.entry.kind is Kind.STOPPED
        assert stopped.entry.verdict is Verdict.UNREAD
        assert code in {one.code for one in stopped.entry.findings}
        said = other.go_on(reason="an old copy was put back", desk="d", operator="o")
        assert said is not None
        assert "an old copy was put back" in said.remark
        assert desk.append(pair(20, 20)).may_seal
        assert desk.warnings() == ()
        assert other.go_on(reason="again", desk="d", operator="o") is None
        if code == "ledger-truncated":
            assert desk.verify().went_on == (said.sequence,)

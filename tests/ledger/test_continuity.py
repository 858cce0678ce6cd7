"""What only something beside the entries can tell: heads and names that are gone."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from pairing.ledger import Ledger
from tests.ledger.making import Clock, label, pair
from tests.ledger.test_tampering import problem


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
    assert problem(days) == (3, "heads")  # the key alone tells that there were some


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

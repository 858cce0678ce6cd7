"""What a walk over a ledger that somebody changed says, word for word and place for place."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from pairing.errors import LedgerDamaged
from pairing.ledger import Ledger
from pairing.ledger.tree import Frontier, leaf_hash
from tests.ledger.making import pair
from tests.ledger.test_tampering import message_of, no_list_of_heads, no_watermark, problem


def test_what_this_machine_saw_is_named_where_it_is_more_than_was_signed_for(
    path: Path, tool: sqlite3.Connection
) -> None:
    with Ledger.open(str(path)) as ledger:
        ledger.append(pair(60, 60))
    tool.execute("DELETE FROM entries WHERE sequence >= 38")
    tool.close()
    # Two: the first entry after a head also has its key named.
    assert message_of(path).endswith("this machine saw 42 entries.")


def rehashed(connection: sqlite3.Connection, sequence: int, old: bytes, new: bytes) -> None:
    """Exchange bytes of an entry, with its leaf and the tree's hashes calculated again."""
    frontier, data = Frontier(), b""
    every = "SELECT canonical FROM entries WHERE sequence <= ? ORDER BY sequence"
    for (stored,) in connection.execute(every, (sequence,)):
        data = bytes(stored)
        if frontier.size + 1 < sequence:
            frontier.push(leaf_hash(data))
    data = data.replace(old, new)
    connection.execute(
        "UPDATE entries SET canonical = ?, nodes = ? WHERE sequence = ?",
        (data, frontier.push(leaf_hash(data)), sequence),
    )


def test_the_first_entry_is_named_where_it_was_written_after_another(
    path: Path, tool: sqlite3.Connection
) -> None:
    rehashed(tool, 1, b"0" * 64, b"0" * 63 + b"1")
    tool.close()
    assert problem(path) == (1, "changed")


def test_bytes_that_are_no_entry_do_not_fit_whatever_their_hashes(
    path: Path, tool: sqlite3.Connection
) -> None:
    rehashed(tool, 40, b'{"', b'{{"')
    tool.execute("DELETE FROM heads")
    tool.close()
    no_watermark(path)
    no_list_of_heads(path)
    assert message_of(path) == "Entry 40 is not what was recorded: it is not an entry."
    assert problem(path) == (40, "changed")


def test_what_cannot_be_read_is_named_with_its_place(
    path: Path, tool: sqlite3.Connection, monkeypatch: pytest.MonkeyPatch
) -> None:
    tool.close()

    def lost(*_: object) -> None:
        raise LedgerDamaged("a page is gone", where=str(path), remedy="")

    monkeypatch.setattr("pairing.ledger.verification.kept_beside.problem", lost)
    assert problem(path) == (41, "unreadable")
    assert message_of(path) == "Entry 41 cannot be read: a page is gone."


def test_a_walk_says_what_it_walked_over(path: Path, tool: sqlite3.Connection) -> None:
    with Ledger.open(str(path)) as ledger:
        clean = ledger.verify()
    assert (clean.entries, clean.heads, len(clean.root)) == (40, 1, 32)
    tool.execute("UPDATE entries SET card = 'x' WHERE sequence = 9")
    tool.close()
    with Ledger.open(str(path)) as ledger:
        report = ledger.verify()
    assert (report.entries, report.root, report.heads) == (8, b"", 0)

"""Somebody, or a disk, changes what was recorded: it shows, and the entry is named."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from msgspec.structs import replace

from pairing.errors import CounterfoilError
from pairing.ledger import Entry, Ledger
from pairing.ledger.entries import columns, decode, encode
from pairing.ledger.tree import Frontier, leaf_hash
from tests.ledger.making import card, label, pair
from tests.ledger.tampering import unnamed


def problem(path: Path) -> tuple[int, str] | None:
    """What verify says, in short."""
    with Ledger.open(str(path)) as ledger:
        found = ledger.verify().problem
    return None if found is None else (found.sequence, found.code)


def message_of(path: Path) -> str:
    """What verify says, in full."""
    with Ledger.open(str(path)) as ledger:
        found = ledger.verify().problem
    assert found is not None
    return found.message


def no_watermark(path: Path) -> None:
    path.with_name(path.name + ".mark").unlink()


def no_list_of_heads(path: Path) -> None:
    path.with_name(path.name + ".heads").unlink()


def test_untouched_it_is_clean(path: Path) -> None:
    assert problem(path) is None


def test_entries_are_guarded_against_accidents(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        for statement in ("UPDATE entries SET card = NULL", "DELETE FROM entries"):
            with pytest.raises(sqlite3.IntegrityError, match="entries never change"):
                connection.execute(statement)


def test_a_flipped_byte_is_found_and_named(path: Path) -> None:
    for number in (1, 17, 39):
        data = bytearray(path.read_bytes())
        place = data.index(b"clerk %03d" % number)
        data[place] ^= 0x01
        path.write_bytes(data)
        assert problem(path) == (number, "changed")
        data[place] ^= 0x01
        path.write_bytes(data)
    assert problem(path) is None


def test_any_flipped_bit_is_found_or_changes_nothing(path: Path) -> None:
    """Free space and SQLite's own counters may change; what is recorded and said may not."""
    with Ledger.open(str(path)) as ledger:
        before = list(ledger.export_lines())
        told = ledger.earlier(article=label(3), card=card(4))
    path.with_name(path.name + "-wal").unlink(missing_ok=True)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
    good = path.read_bytes()
    chance = random.Random(5)
    found = 0
    for _ in range(150):
        data = bytearray(good)
        data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
        path.write_bytes(data)
        for beside in ("-wal", "-shm"):
            path.with_name(path.name + beside).unlink(missing_ok=True)
        try:
            with Ledger.open(str(path)) as ledger:
                if not ledger.verify().is_clean:
                    found += 1
                    continue
                assert list(ledger.export_lines()) == before
                assert ledger.earlier(article=label(3), card=card(4)) == told
        except CounterfoilError:
            found += 1
    assert found > 20


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ("UPDATE entries SET card = 'x' WHERE sequence = 9", (9, "columns")),
        ("UPDATE entries SET article = NULL WHERE sequence = 9", (9, "columns")),
        ("UPDATE entries SET elsewhere = 'x' WHERE sequence = 9", (9, "columns")),
        ("UPDATE entries SET refers = 4 WHERE sequence = 40", (40, "columns")),
        ("UPDATE entries SET kind = 'note' WHERE sequence = 9", (9, "columns")),
        ("UPDATE entries SET at = '2025-03-02' WHERE sequence = 9", (9, "columns")),
        ("UPDATE entries SET key = 'k' WHERE sequence = 9", (9, "columns")),
        ("UPDATE entries SET nodes = zeroblob(32) WHERE sequence = 9", (9, "changed")),
        ("UPDATE entries SET nodes = substr(nodes, 1, 32) WHERE sequence = 10", (10, "tree")),
        ("UPDATE entries SET canonical = 'text' WHERE sequence = 9", (9, "changed")),
        ("UPDATE entries SET canonical = 9 WHERE sequence = 9", (9, "changed")),
        ("UPDATE entries SET nodes = 9 WHERE sequence = 9", (9, "changed")),
        ("UPDATE entries SET nodes = 9 WHERE sequence = 40", (40, "changed")),
        ("DELETE FROM entries WHERE sequence = 9", (9, "missing")),
        ("DELETE FROM entries WHERE sequence = 1", (1, "missing")),
        ("DELETE FROM entries WHERE sequence >= 38", (38, "truncated")),
        ("DELETE FROM entries", (1, "truncated")),
        ("UPDATE heads SET root = zeroblob(32)", (40, "signature")),
        ("UPDATE heads SET signature = zeroblob(64)", (40, "signature")),
        ("UPDATE signers SET public = zeroblob(32)", (40, "signature")),
    ],
)  # fmt: skip
def test_each_change_is_named(
    path: Path, tool: sqlite3.Connection, change: str, expected: tuple[int, str]
) -> None:
    assert tool.execute(change).rowcount > 0
    tool.close()
    assert problem(path) == expected


def test_a_lost_end_shows_by_the_head_alone_and_by_the_watermark_alone(
    path: Path, tool: sqlite3.Connection
) -> None:
    tool.execute("DELETE FROM entries WHERE sequence >= 38")
    tool.execute("DELETE FROM heads")
    tool.close()
    assert problem(path) == (38, "truncated")
    with Ledger.open(str(path)) as ledger:
        assert {one.code for one in ledger.warnings()} == {"ledger-truncated"}
        # Going on does not hide it.
        for number in range(100, 110):
            ledger.append(pair(number, number))
    assert problem(path) == (40, "changed")
    no_watermark(path)
    assert problem(path) == (40, "heads")
    assert "The head over 40 entries that was signed on 2026-03-02 is gone" in message_of(path)
    no_list_of_heads(path)
    assert problem(path) is None


def test_a_lost_end_shows_by_the_head_without_a_watermark(
    path: Path, tool: sqlite3.Connection
) -> None:
    tool.execute("DELETE FROM entries WHERE sequence >= 38")
    missing = "Entry 38 and what came after it are missing: "
    assert message_of(path) == missing + "a head signed for 40 entries."
    no_watermark(path)
    assert problem(path) == (38, "truncated")
    tool.close()


def test_two_entries_that_change_places_are_found(path: Path, tool: sqlite3.Connection) -> None:
    for old, new in ((9, 99), (10, 9), (99, 10)):
        tool.execute("UPDATE entries SET sequence = ? WHERE sequence = ?", (new, old))
    tool.close()
    found = problem(path)
    assert found is not None
    assert found[0] in (8, 9)


def rewritten(old: list[Entry]) -> Iterator[dict[str, object]]:
    """The same ledger but for entry 9, with every hash calculated again."""
    frontier, previous = Frontier(), bytes(32)
    for entry in old:
        new = replace(entry, previous=previous.hex())
        if entry.sequence == 9:
            new = replace(new, operator="somebody else")
        data = encode(new)
        previous = leaf_hash(data)
        yield {**columns(new), "nodes": frontier.push(previous), "canonical": data}


def test_a_rewritten_past_is_found_by_the_head_and_by_the_watermark(
    path: Path, tool: sqlite3.Connection
) -> None:
    rows = tool.execute("SELECT canonical FROM entries ORDER BY sequence").fetchall()
    tool.execute("DELETE FROM entries")
    for row in rewritten([decode(data, where="test") for (data,) in rows]):
        names = ", ".join(row)
        marks = ", ".join("?" * len(row))
        tool.execute(f"INSERT INTO entries ({names}) VALUES ({marks})", tuple(row.values()))
    assert problem(path) == (40, "changed")  # the watermark knows entry 40
    no_watermark(path)
    assert problem(path) == (40, "head")
    tool.execute("DELETE FROM heads")
    tool.close()
    assert problem(path) == (40, "heads")  # this machine lists what it signed
    no_list_of_heads(path)
    # Without any witness outside, a consistent ledger is all that can be told.
    assert problem(path) is None


def test_one_entry_rehashed_is_named_by_the_next(path: Path, tool: sqlite3.Connection) -> None:
    (data,) = tool.execute("SELECT canonical FROM entries WHERE sequence = 9").fetchone()
    changed = bytes(data).replace(b"clerk 009", b"clerk 999")
    tool.execute(
        "UPDATE entries SET canonical = ?, nodes = ? WHERE sequence = 9",
        (changed, leaf_hash(changed)),
    )
    tool.close()
    assert problem(path) == (9, "changed")


def test_an_index_that_misses_an_entry_is_found(path: Path, tool: sqlite3.Connection) -> None:
    """Such an index would let a label be accepted twice."""
    tool.execute("PRAGMA writable_schema = ON")
    tool.execute(
        "UPDATE sqlite_schema SET sql = replace(sql, 'article IS NOT NULL', 'article IS NULL') "
        "WHERE name = 'entries_article'"
    )
    tool.close()
    found = problem(path)
    assert found is not None
    assert found[1] == "index"


def test_changed_particulars_are_found(path: Path, tool: sqlite3.Connection) -> None:
    with Ledger.open(str(path)) as ledger:
        ledger.append(pair(50, 50, particulars={"name": "Invented Person"}))
    assert problem(path) is None
    tool.execute("UPDATE particulars SET content = replace(content, 'Invented', 'Other')")
    tool.close()
    assert problem(path) == (41, "particulars")


def test_random_tampering_is_named(tmp_path: Path) -> None:
    """Hundreds by hand: `python -m tests.ledger.tampering 200`."""
    assert unnamed(tmp_path, 8, 3) == []

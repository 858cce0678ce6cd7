"""The ledger as JSON Lines, and entries brought in from there or from CSV.

A line holds one thing: each entry's bytes exactly as they were hashed, then the signed
heads and, if asked for, the names and addresses."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import msgspec
from sqlalchemy import Connection, func, insert, select

from pairing.errors import CounterfoilError, TableUnusable
from pairing.ledger import find_index, heads
from pairing.ledger.canonical import canonical
from pairing.ledger.database import Database
from pairing.ledger.drafts import is_false_pair
from pairing.ledger.entries import Entry, columns, decode, encode
from pairing.ledger.erasable import commit
from pairing.ledger.queries import CHUNK
from pairing.ledger.schema import ENTRIES, HEADS, PARTICULARS, SIGNERS
from pairing.ledger.tip import NO_LEAF, subtree_in
from pairing.ledger.tree import Frontier, edge, leaf_hash, root_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Particulars:
    """A row of names and addresses."""

    sequence: int
    salt: bytes
    content: bytes


class _Line(msgspec.Struct, kw_only=True):
    """The part of a line that tells what kind of line it is."""

    head: heads.HeadMembers | msgspec.UnsetType = msgspec.UNSET
    particulars: dict[str, str] | msgspec.UnsetType = msgspec.UNSET
    salt: str = ""
    sequence: int = 0


_LINE = msgspec.json.Decoder(_Line)

LARGEST = 2**63 - 1
"""What a column of whole numbers holds (SQLite, "Datatypes"; PostgreSQL's bigint)."""

Item = Entry | heads.Head | Particulars
"""What a line is."""


def lines(database: Database, *, with_particulars: bool = False) -> Iterator[bytes]:
    """The lines, each with its line end. Streams."""
    after = 0
    while True:
        with database.reading() as connection:
            span = (ENTRIES.c.sequence > after) & (ENTRIES.c.sequence <= after + CHUNK)
            wanted = select(ENTRIES.c.canonical).where(span).order_by(ENTRIES.c.sequence)
            chunk = [bytes(data) for data in connection.execute(wanted).scalars()]
        yield from (data + b"\n" for data in chunk)
        after += CHUNK
        if len(chunk) < CHUNK:
            break
    yield from _beside(database, with_particulars=with_particulars)


def items(source: Iterable[bytes], *, where: str) -> Iterator[Item]:
    """What the lines are, one after the other. Raises TableUnusable, with the line's
    number, for a line that this program did not write."""
    for number, line in enumerate(source, start=1):
        data = line.rstrip(b"\r\n")
        if not data:
            continue
        try:
            yield _item(data)
        except (CounterfoilError, ValueError, TypeError, RecursionError) as problem:
            raise TableUnusable(
                "This line is not one of a ledger's",
                where=f"{where}, line {number}",
                remedy="Export the ledger again, and bring the file over unchanged.",
            ) from problem


def _item(data: bytes) -> Item:
    found = _LINE.decode(data)
    if isinstance(found.head, heads.HeadMembers):
        return heads.from_members(found.head)
    if isinstance(found.particulars, dict):
        return Particulars(
            sequence=found.sequence,
            salt=bytes.fromhex(found.salt),
            content=canonical(found.particulars),
        )
    entry = decode(data, where="line")
    if encode(entry) != data:
        raise ValueError(data)
    return entry


def _beside(database: Database, *, with_particulars: bool) -> Iterator[bytes]:
    with database.reading() as connection:
        signed = [heads.from_row(row) for row in connection.execute(heads.ALL)]
    for head in signed:
        yield msgspec.json.encode({"head": heads.members(head)}) + b"\n"
    if not with_particulars:
        return
    with database.reading() as connection:
        for row in connection.execute(select(PARTICULARS).order_by(PARTICULARS.c.sequence)):
            named = {
                "particulars": msgspec.Raw(row.content),  # canonical as it is stored
                "salt": bytes(row.salt).hex(),
                "sequence": row.sequence,
            }
            yield msgspec.json.encode(named) + b"\n"


def bring_in(database: Database, items: Iterable[Item], *, source: str) -> int:
    """Add the entries that are not there yet; how many were added. All or nothing.

    Entries keep sequence, time and hashes. What is there already must be the same; raises
    TableUnusable where the file is of another ledger, leaves an entry out, or has a sealed piece
    that does not agree.
    """
    with database.writing() as connection:
        taker = _Taker(connection, database.where, source)
        for item in items:
            taker.take(item)
        taker.flush()
        return taker.added


class _Taker:
    def __init__(self, connection: Connection, where: str, source: str) -> None:
        self._connection = connection
        self._where = where
        self._source = source
        size = connection.execute(select(func.max(ENTRIES.c.sequence))).scalar() or 0
        self._there = size
        self._frontier = Frontier(size, [self._subtree(level, at) for level, at in edge(size)])
        self._leaf = self._subtree(0, size - 1) if size else NO_LEAF
        self._waiting: list[dict[str, Any]] = []
        self.added = 0

    def take(self, item: Item) -> None:
        match item:
            case Entry():
                self._entry(item)
            case heads.Head():
                self.flush()
                self._head(item)
            case Particulars():
                self.flush()
                self._particulars(item)

    def flush(self) -> None:
        if self._waiting:
            self._connection.execute(insert(ENTRIES), self._waiting)
            self._waiting = []

    def _entry(self, entry: Entry) -> None:
        data = encode(entry)
        if entry.sequence <= self._there:
            if leaf_hash(data) != self._subtree(0, entry.sequence - 1):
                raise self._other(f"entry {entry.sequence} is another one there")
            return
        if not all(
            1 <= one <= LARGEST for one in (entry.sequence, entry.refers) if one is not None
        ):
            raise self._other(f"entry {entry.sequence} has a number that no entry has")
        try:
            _ = entry.when
        except ValueError as problem:
            raise self._other(f"entry {entry.sequence} has no time") from problem
        if is_false_pair(entry):
            raise TableUnusable(
                f"Entry {entry.sequence} of this file is a sealed piece that does not agree",
                where=self._source,
                remedy="No ledger holds such an entry: the file was changed. Ask for it again.",
            )
        if entry.sequence != self._frontier.size + 1 or entry.previous != self._leaf.hex():
            raise self._other(f"entry {entry.sequence} does not follow what is there")
        self._leaf = leaf_hash(data)
        nodes = self._frontier.push(self._leaf)
        self._waiting.append({**columns(entry), "nodes": nodes, "canonical": data})
        self.added += 1
        if len(self._waiting) == CHUNK:
            self.flush()

    def _head(self, head: heads.Head) -> None:
        # A head beyond the entries, or over others, would make the ledger fail its next check.
        if head.size > self._frontier.size or root_of(head.size, self._subtree) != head.root:
            raise self._other(f"the head over {head.size} entries is signed for others")
        known = select(SIGNERS.c.key_id).where(SIGNERS.c.key_id == head.key_id)
        if self._connection.execute(known).first() is None:
            self._connection.execute(
                insert(SIGNERS), {"key_id": head.key_id, "public": head.public}
            )
        same = (HEADS.c.size == head.size) & (HEADS.c.key_id == head.key_id)
        if self._connection.execute(select(HEADS.c.size).where(same)).first() is None:
            self._connection.execute(insert(HEADS), heads.row(head))

    def _particulars(self, row: Particulars) -> None:
        if commit(row.salt, row.content) != self._commitment(row.sequence):
            raise TableUnusable(
                f"Names and addresses of entry {row.sequence} in this file are not those recorded",
                where=self._source,
                remedy="The file was changed, or is of another ledger. Ask for it again.",
            )
        same = PARTICULARS.c.sequence == row.sequence
        if self._connection.execute(select(PARTICULARS.c.sequence).where(same)).first() is None:
            values = {"sequence": row.sequence, "salt": row.salt, "content": row.content}
            self._connection.execute(insert(PARTICULARS), values)
            find_index.names_changed(self._connection, (row.sequence,))

    def _commitment(self, sequence: int) -> str:
        """What the entry holds of its names and addresses; "" where there is no such entry."""
        wanted = select(ENTRIES.c.canonical).where(ENTRIES.c.sequence == sequence)
        is_one = 1 <= sequence <= LARGEST
        data = self._connection.execute(wanted).scalar() if is_one else None
        return "" if data is None else decode(data, where=f"entry {sequence}").commitment

    def _subtree(self, level: int, index: int) -> bytes:
        sequence = (index + 1) << level
        nodes = self._connection.execute(
            select(ENTRIES.c.nodes).where(ENTRIES.c.sequence == sequence)
        ).scalar()
        return subtree_in(nodes or b"", level, index, self._where)

    def _other(self, why: str) -> TableUnusable:
        return TableUnusable(
            f"This file is not of the ledger {self._where!r}: {why}",
            where=self._source,
            remedy="Import it into a ledger of its own (another file).",
        )

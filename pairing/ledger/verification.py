"""Walk the whole ledger and name the first entry that does not match.

The stored bytes are hashed as they are; chain, tree, signed heads and watermark are held
against them, and so are the columns that repeat members of an entry. One pass, flat memory.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any

from sqlalchemy import Connection, select

from pairing.errors import LedgerDamaged
from pairing.ledger import continuity, heads, kept_beside, watermark
from pairing.ledger.database import Database
from pairing.ledger.entries import COLUMNS, Found, Kind, found_by
from pairing.ledger.schema import ENTRIES
from pairing.ledger.soundness import Soundness
from pairing.ledger.tip import NO_LEAF
from pairing.ledger.tree import HASH_BYTES, Frontier, leaf_hash
from pairing.ledger.walk_report import Problem, Progress, Report

_AT_ONCE = 1000


@dataclass(slots=True)
class _Walk:
    frontier: Frontier = field(default_factory=Frontier)
    leaf: bytes = NO_LEAF
    heads: dict[int, list[heads.Head]] = field(default_factory=dict)
    keys: dict[str, None] = field(default_factory=dict)
    mark: watermark.Mark | None = None
    marked: int = 0
    signed: list[tuple[int, str, bytes]] = field(default_factory=list)
    days: tuple[str, str] = ("", "")
    committed: array[int] = field(default_factory=lambda: array("q"))
    notes: continuity.Notes = field(default_factory=continuity.Notes)


def verify(
    database: Database,
    *,
    mark: watermark.Mark | None,
    has_key: bool,
    progress: Progress | None,
) -> Report:
    """Check everything. mark: the watermark, read before this is called. has_key: whether this
    machine has a signing key for the ledger."""
    listed = continuity.all_signed(database)
    walk = _Walk(mark=mark, marked=mark.size if mark else 0)
    with Soundness(database) as soundness:
        try:
            with database.reading() as connection:
                problem = _walked(walk, connection, progress)
                size = walk.frontier.size
                problem = problem or _end(walk) or kept_beside.problem(connection, size)
            problem = problem or _gone_heads(walk, listed, has_key=has_key)
            problem = problem or _strange_keys(walk)
            problem = problem or _index(soundness, walk.frontier.size)
        except LedgerDamaged as damage:
            problem = Problem(
                sequence=walk.frontier.size + 1,
                code="unreadable",
                message=f"Entry {walk.frontier.size + 1} cannot be read: {damage.what}.",
            )
    notes = walk.notes
    return Report(
        entries=walk.frontier.size,
        root=b"" if problem else walk.frontier.root(),
        heads=len(walk.signed),
        keys=tuple(walk.keys),
        problem=problem,
        gone=() if problem else continuity.gone(database, walk.committed),
        photos_gone=() if problem else kept_beside.photos_gone(database, notes.kept_photos),
        unrecorded=tuple(one for one in walk.keys if notes.keys and one not in notes.keys),
        unsigned=tuple(one for one in notes.keys if one not in walk.keys),
        went_on=tuple(notes.went_on),
        witnessed=len({(one.size, one.key_id) for one in listed}),
    )


def _gone_heads(
    walk: _Walk, listed: Sequence[continuity.SignedHere], *, has_key: bool
) -> Problem | None:
    lost = continuity.missing_head(listed, walk.signed, walk.notes.settled)
    if lost is not None:
        return Problem(
            sequence=lost.size,
            code="heads",
            message=f"The head over {lost.size} entries that was signed on {lost.at[:10]} is gone "
            f"or was signed again; {lost.told_by} lists it. If an older copy was put back on "
            "purpose, have that recorded: counterfoil ledger go-on.",
        )
    first, last = walk.days
    if has_key and not walk.signed and first < last:
        # The first entry of a later day signs the days before it.
        return Problem(
            sequence=walk.frontier.size,
            code="heads",
            message="There is a signing key here, but no signed head is left in the ledger.",
        )
    return None


def _strange_keys(walk: _Walk) -> Problem | None:
    """Heads there are, but of every key that an entry names they are gone. (Where no head is left
    at all, an import from CSV, which holds none, looks the same.)"""
    named = walk.notes.keys
    if not walk.keys or not named or any(one in named for one in walk.keys):
        return None
    key, sequence = next(iter(named.items()))
    return Problem(
        sequence=sequence,
        code="key",
        message=f"Entry {sequence} records that key {key[:16]} signed heads of this ledger. None "
        "of them is left, and all that are here are signed by keys that no entry names. (After an "
        "import from CSV, which holds no heads, bring it in from JSON Lines.)",
    )


def _walked(walk: _Walk, connection: Connection, progress: Progress | None) -> Problem | None:
    for row in connection.execute(heads.ALL):
        head = heads.from_row(row)
        walk.heads.setdefault(head.size, []).append(head)
    for rows in _rows(connection):
        problem = _taken(walk, rows)
        if problem is not None:
            return problem
        if progress is not None:
            progress(walk.frontier.size)
    return None


def _rows(connection: Connection) -> Iterator[Sequence[Any]]:
    """Every entry's columns, nodes and bytes, in order, some at a time."""
    names = [ENTRIES.c[name] for name in COLUMNS]
    every = select(*names, ENTRIES.c.nodes, ENTRIES.c.canonical).order_by(ENTRIES.c.sequence)
    if connection.dialect.name != "sqlite":
        result = connection.execution_options(yield_per=_AT_ONCE).execute(every)
        yield from result.partitions()
        return
    # Without SQLAlchemy's rows: they cost a seventh of the whole walk.
    cursor = connection.connection.cursor()
    try:
        cursor.execute(str(every.compile(dialect=connection.dialect)))
        while rows := cursor.fetchmany(_AT_ONCE):
            yield rows
    finally:
        cursor.close()


def _taken(walk: _Walk, rows: Sequence[Any]) -> Problem | None:
    """Walk over these rows as far as they fit. All that is done for each of a million entries
    is in here."""
    frontier, leaf_before, marked = walk.frontier, walk.leaf, walk.marked
    walk.days = (walk.days[0] or rows[0][1][:10], rows[-1][1][:10])
    for row in rows:
        sequence, nodes, data = row[0], row[-2], row[-1]
        size = frontier.size
        try:
            leaf = sha256(b"\x00" + data).digest()
            said = found_by(data)
            fits = (
                sequence == size + 1
                and nodes[:HASH_BYTES] == leaf
                and said.previous == leaf_before.hex()
                and said.columns() == row[:-2]
                and not (sequence == marked and walk.mark and leaf != walk.mark.leaf)
            )
        except (ValueError, RecursionError, TypeError):
            fits = False  # no entry, or not even bytes
        if not fits or frontier.push(leaf) != nodes:
            frontier.size = size  # a misfit is not walked over
            walk.leaf = leaf_before
            return _misfit(walk, row)
        walk.leaf = leaf_before = leaf
        if said.commitment:
            walk.committed.append(sequence)
        if said.key and said.kind == Kind.NOTE:
            walk.notes.take(sequence, said.at, said.key)
        if size + 1 in walk.heads and (problem := _heads(walk)):
            return problem
    return None


def _misfit(walk: _Walk, row: Any) -> Problem:
    """What is wrong with a row that does not match."""
    sequence, nodes, data = row[0], row[-2], row[-1]
    here = walk.frontier.size + 1

    def problem(code: str, message: str, at: int = here) -> Problem:
        return Problem(sequence=at, code=code, message=message)

    if sequence != here:
        return problem("missing", f"Entry {here} is missing; {sequence} follows.")
    are_bytes = isinstance(data, bytes) and isinstance(nodes, bytes)
    leaf = leaf_hash(data) if are_bytes else b""
    if not are_bytes or leaf != nodes[:HASH_BYTES]:
        what = f"Entry {here} is not what was recorded: its bytes have another hash."
        return problem("changed", what)
    said = _said(data)
    if said is None:
        return problem("changed", f"Entry {here} is not what was recorded: it is not an entry.")
    if said.previous != walk.leaf.hex():
        before = max(here - 1, 1)
        what = f"Entry {before} is not the one that entry {here} was written after."
        return problem("changed", what, before)
    if walk.mark is not None and walk.mark.size == here and walk.mark.leaf != leaf:
        what = f"Entry {here} is not the one that this machine saw recorded there."
        return problem("changed", what)
    if said.columns() != tuple(row[:-2]):
        return problem("columns", f"Entry {here} is filed under other values than it holds.")
    what = f"The tree's hashes at entry {here} do not follow from the entries."
    return problem("tree", what)


def _said(data: bytes) -> Found | None:
    try:
        return found_by(data)
    except (ValueError, RecursionError):
        return None


def _heads(walk: _Walk) -> Problem | None:
    size, root = walk.frontier.size, walk.frontier.root()
    for head in walk.heads.pop(size):
        if not head.is_genuine:
            return Problem(
                sequence=size,
                code="signature",
                message=f"The head over {size} entries, of {head.day}, is not signed by its key.",
            )
        if head.root != root:
            return Problem(
                sequence=size,
                code="head",
                message=f"The {size} entries are not those that were signed for on {head.day}: "
                "one after the head before was changed and everything after it rewritten.",
            )
        walk.signed.append((size, head.key_id, root))
        walk.keys[head.key_id] = None
    return None


def _end(walk: _Walk) -> Problem | None:
    size = walk.frontier.size
    most = max(walk.heads, default=0)
    mark = walk.mark.size if walk.mark else 0
    if max(most, mark) <= size:
        return None
    said = f"a head signed for {most}" if most >= mark else f"this machine saw {mark}"
    return Problem(
        sequence=size + 1,
        code="truncated",
        message=f"Entry {size + 1} and what came after it are missing: {said} entries.",
    )


def _index(soundness: Soundness, size: int) -> Problem | None:
    said = soundness.said()
    if said == "ok":
        return None
    return Problem(
        sequence=size,
        code="index",
        message=f"Every entry matches, but the database file is damaged: {said}.",
    )

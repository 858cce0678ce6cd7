"""What only something beside the entries can tell: that signed heads are gone, or names and
addresses that nobody erased.

Heads that are deleted, or all signed again with another key, leave a ledger that fits together.
So each machine keeps a list of the heads that it signed, in a file beside the signing key.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import select

from pairing.ledger import queries
from pairing.ledger.database import Database
from pairing.ledger.drafts import ERASED
from pairing.ledger.entries import Entry, Kind
from pairing.ledger.heads import Head
from pairing.ledger.schema import PARTICULARS

MOST_NAMED = 100
"""Entries whose names and addresses are gone are looked into up to here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedHere:
    """A head that this machine signed."""

    size: int
    key_id: str
    root: bytes
    at: str


def list_path(database: Database) -> Path:
    """The file of the heads that this machine signed."""
    return database.files.with_name(database.files.name + ".heads")


def note(path: Path, heads: Iterable[Head]) -> None:
    """Add heads to the list. Raises OSError."""
    lines = "".join(f"{one.size} {one.key_id} {one.root.hex()} {one.at}\n" for one in heads)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    try:
        os.write(handle, lines.encode())
    finally:
        os.close(handle)


def signed_here(path: Path) -> tuple[SignedHere, ...]:
    """The list; empty where there is none. A line that was cut short is left out."""
    try:
        lines = path.read_text("ascii").splitlines()
    except (OSError, UnicodeDecodeError):
        return ()
    found = []
    for line in lines:
        parts = line.split()
        try:
            size, key_id, root, at = parts
            found.append(SignedHere(size=int(size), key_id=key_id, root=bytes.fromhex(root), at=at))
        except ValueError:
            continue
    return tuple(found)


def missing_head(
    listed: Iterable[SignedHere], present: Iterable[tuple[int, str, bytes]]
) -> SignedHere | None:
    """The first head of the list that is not among these (size, key id, root)."""
    known = set(present)
    return next((one for one in listed if (one.size, one.key_id, one.root) not in known), None)


def gone(database: Database, committed: Iterable[int]) -> tuple[int, ...]:
    """Of these entries, which have names and addresses, those whose names and addresses are not
    there though nobody erased them. An export without them leaves them out as well."""
    with database.reading() as connection:
        there = set(connection.execute(select(PARTICULARS.c.sequence)).scalars())
    missing = [one for one in committed if one not in there][:MOST_NAMED]
    entries = [queries.entry(database, sequence) for sequence in missing]
    return tuple(
        one.sequence for one in entries if one is not None and not _is_erased(database, one)
    )


def _is_erased(database: Database, entry: Entry) -> bool:
    numbers = {entry.article, entry.card} - {None}
    stories = [queries.story(database, number) for number in numbers if number]
    return any(
        one.kind is Kind.NOTE and one.remark == ERASED for story in stories for one in story.entries
    )

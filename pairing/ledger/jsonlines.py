"""The ledger as JSON Lines: each entry's bytes exactly as they were hashed, then the signed
heads and, if asked for, the names and addresses."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select

from pairing.errors import CounterfoilError, TableUnusable
from pairing.ledger import heads
from pairing.ledger.canonical import canonical, decode, encode
from pairing.ledger.database import Database
from pairing.ledger.entries import Entry
from pairing.ledger.keys import key_id
from pairing.ledger.queries import CHUNK
from pairing.ledger.schema import ENTRIES, PARTICULARS


@dataclass(frozen=True, slots=True, kw_only=True)
class Particulars:
    """A row of names and addresses."""

    sequence: int
    salt: bytes
    content: bytes


Item = Entry | heads.Head | Particulars
"""What a line stands for."""


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
    """What the lines stand for, one after the other. Raises TableUnusable, with the line's
    number, for a line that this program did not write."""
    for number, line in enumerate(source, start=1):
        data = line.rstrip(b"\r\n")
        if not data:
            continue
        try:
            yield _item(data)
        except (CounterfoilError, ValueError, KeyError, TypeError, AttributeError) as problem:
            raise TableUnusable(
                "This line is none of a ledger's",
                where=f"{where}, line {number}",
                remedy="Export the ledger again, and bring the file over unchanged.",
            ) from problem


def _item(data: bytes) -> Item:
    found = json.loads(data)
    if "head" in found:
        return _head(found["head"])
    if "particulars" in found:
        return Particulars(
            sequence=int(found["sequence"]),
            salt=bytes.fromhex(found["salt"]),
            content=canonical(found["particulars"]),
        )
    entry = decode(data, where="line")
    if encode(entry) != data:
        raise ValueError(data)
    return entry


def _beside(database: Database, *, with_particulars: bool) -> Iterator[bytes]:
    with database.reading() as connection:
        signed = [heads.from_row(row) for row in connection.execute(heads.ALL)]
    for head in signed:
        yield canonical({"head": _head_members(head)}) + b"\n"
    if not with_particulars:
        return
    with database.reading() as connection:
        for row in connection.execute(select(PARTICULARS).order_by(PARTICULARS.c.sequence)):
            named = {
                "particulars": json.loads(row.content),
                "salt": bytes(row.salt).hex(),
                "sequence": row.sequence,
            }
            yield canonical(named) + b"\n"


def _head_members(head: heads.Head) -> dict[str, Any]:
    return {
        "at": head.at,
        "day": head.day,
        "public_key": head.public.hex(),
        "root": head.root.hex(),
        "signature": head.signature.hex(),
        "size": head.size,
    }


def _head(found: dict[str, Any]) -> heads.Head:
    public = bytes.fromhex(found["public_key"])
    head = heads.Head(
        size=int(found["size"]),
        root=bytes.fromhex(found["root"]),
        day=found["day"],
        at=found["at"],
        public=public,
        key_id=key_id(public),
        signature=bytes.fromhex(found["signature"]),
    )
    if not head.is_genuine:
        raise ValueError(found["signature"])
    return head

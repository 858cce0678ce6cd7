"""What is kept beside the entries, held against them: names and addresses, photos."""

from __future__ import annotations

from collections.abc import Iterable
from hashlib import sha256

from sqlalchemy import Connection, select

from pairing.ledger.database import Database
from pairing.ledger.entries import decode
from pairing.ledger.erasable import commit
from pairing.ledger.schema import ENTRIES, PARTICULARS, PHOTOS
from pairing.ledger.walk_report import Problem


def problem(connection: Connection, size: int) -> Problem | None:
    """The first that is not what was recorded. size: how many entries there are."""
    return _particulars(connection) or _photos(connection, size)


def photos_gone(database: Database, kept: Iterable[str]) -> tuple[str, ...]:
    """Of these photos, by SHA-256, those that are not there."""
    with database.reading() as connection:
        there = set(connection.execute(select(PHOTOS.c.sha256)).scalars())
    return tuple(one for one in kept if one not in there)


def _particulars(connection: Connection) -> Problem | None:
    joined = select(
        PARTICULARS.c.sequence, PARTICULARS.c.salt, PARTICULARS.c.content, ENTRIES.c.canonical
    ).outerjoin(ENTRIES, ENTRIES.c.sequence == PARTICULARS.c.sequence)
    for sequence, salt, content, data in connection.execution_options(yield_per=1000).execute(
        joined.order_by(PARTICULARS.c.sequence)
    ):
        named = "" if data is None else decode(data, where=f"entry {sequence}").commitment
        are_bytes = isinstance(salt, bytes) and isinstance(content, bytes)
        if not are_bytes or commit(salt, content) != named:
            return Problem(
                sequence=sequence,
                code="particulars",
                message=f"Names and addresses of entry {sequence} are not those recorded.",
            )
    return None


def _photos(connection: Connection, size: int) -> Problem | None:
    digests = list(connection.execute(select(PHOTOS.c.sha256).order_by(PHOTOS.c.sha256)).scalars())
    for digest in digests:  # one at a time: a photo may have many megabytes
        wanted = select(PHOTOS.c.content).where(PHOTOS.c.sha256 == digest)
        content = connection.execute(wanted).scalar()
        if not isinstance(content, bytes) or sha256(content).hexdigest() != digest:
            return Problem(
                sequence=size,
                code="photo",
                message=f"The kept photo {str(digest)[:16]} is not the one that was stored.",
            )
    return None

"""What lies beside the entries and can be erased: names and addresses, photos."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256

from sqlalchemy import delete, insert, select

from pairing.ledger.database import Database
from pairing.ledger.entries import Entry
from pairing.ledger.privacy import opened
from pairing.ledger.schema import PARTICULARS, PHOTOS


def particulars(database: Database, sequence: int) -> dict[str, str] | None:
    """Names and addresses of an entry; None where there are none (any more)."""
    wanted = select(PARTICULARS.c.content).where(PARTICULARS.c.sequence == sequence)
    with database.reading() as connection:
        content = connection.execute(wanted).scalar()
    return None if content is None else opened(bytes(content))


def erase(database: Database, entries: Sequence[Entry]) -> int:
    """Erase names, addresses and photos of these entries; how many were erased."""
    photos = {one.photo_sha256 for entry in entries for one in entry.readings}
    sequences = [entry.sequence for entry in entries]
    with database.writing() as connection:
        named = delete(PARTICULARS).where(PARTICULARS.c.sequence.in_(sequences))
        shown = delete(PHOTOS).where(PHOTOS.c.sha256.in_(photos))
        return connection.execute(named).rowcount + connection.execute(shown).rowcount


def keep_photo(database: Database, content: bytes) -> str:
    """Store a photo; its SHA-256 in hexadecimal."""
    digest = sha256(content).hexdigest()
    known = select(PHOTOS.c.sha256).where(PHOTOS.c.sha256 == digest)
    with database.writing() as connection:
        if connection.execute(known).first() is None:
            connection.execute(insert(PHOTOS), {"sha256": digest, "content": content})
    return digest


def photo(database: Database, digest: str) -> bytes | None:
    """A stored photo by its SHA-256; None where it is not (any more) there."""
    wanted = select(PHOTOS.c.content).where(PHOTOS.c.sha256 == digest)
    with database.reading() as connection:
        content = connection.execute(wanted).scalar()
    return None if content is None else bytes(content)

"""What is kept beside the entries and can be erased: names and addresses, photos.

An entry holds only a commitment to names and addresses: HMAC-SHA-256 (RFC 2104) over their
canonical bytes under 32 random bytes of salt. Salt and contents are erased together; what stays
in the entry then tells nothing, and the chain still holds.
"""

from __future__ import annotations

import hmac
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256

from sqlalchemy import Connection, delete, insert, select

from pairing.ledger import find_index
from pairing.ledger.canonical import canonical, clean, names_in
from pairing.ledger.database import Database
from pairing.ledger.entries import Entry, Kind
from pairing.ledger.schema import ENTRIES, PARTICULARS, PHOTOS

SALT_BYTES = 32

_AT_ONCE = 500
_SAID_LATER = (Kind.NOTE.value, Kind.CORRECTED.value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sealed:
    """Particulars as they are stored, and the commitment that the entry holds."""

    salt: bytes
    content: bytes
    commitment: str


def seal(particulars: Mapping[str, str]) -> Sealed:
    """Particulars under a new salt."""
    salt = os.urandom(SALT_BYTES)
    content = canonical({clean(name): clean(value) for name, value in particulars.items()})
    return Sealed(salt=salt, content=content, commitment=commit(salt, content))


def commit(salt: bytes, content: bytes) -> str:
    """The commitment, 64 hexadecimal digits."""
    return hmac.new(salt, content, "sha256").hexdigest()


def particulars(database: Database, sequence: int) -> dict[str, str] | None:
    """Names and addresses of an entry; None where there are none (any more)."""
    wanted = select(PARTICULARS.c.content).where(PARTICULARS.c.sequence == sequence)
    with database.reading() as connection:
        content = connection.execute(wanted).scalar()
    return None if content is None else names_in(bytes(content))


def of_pieces(database: Database, sequences: Sequence[int]) -> dict[int, dict[str, str]]:
    """For whom and why these pieces (or expected pairs) are: what their own entries hold, with
    what was said later in its place. Without those of which nothing is kept (any more)."""
    found: dict[int, dict[str, str]] = {}
    joined = select(ENTRIES.c.sequence, ENTRIES.c.refers, PARTICULARS.c.content).join(
        PARTICULARS, PARTICULARS.c.sequence == ENTRIES.c.sequence
    )
    for at in range(0, len(sequences), _AT_ONCE):
        wanted = set(sequences[at : at + _AT_ONCE])
        later = ENTRIES.c.refers.in_(wanted) & ENTRIES.c.kind.in_(_SAID_LATER)
        with database.reading() as connection:
            for condition in (ENTRIES.c.sequence.in_(wanted), later):
                ordered = joined.where(condition).order_by(ENTRIES.c.sequence)
                for sequence, refers, content in connection.execute(ordered):
                    piece = sequence if sequence in wanted else refers
                    found.setdefault(piece, {}).update(names_in(bytes(content)))
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Erased:
    """count: of names and addresses and of photos together. photos: the SHA-256 of these."""

    count: int
    photos: tuple[str, ...]


def erase(connection: Connection, entries: Sequence[Entry]) -> Erased:
    """Erase names, addresses and photos of these entries, in this transaction."""
    photos = {one.photo_sha256 for entry in entries for one in entry.readings}
    sequences = [entry.sequence for entry in entries]
    named = delete(PARTICULARS).where(PARTICULARS.c.sequence.in_(sequences))
    kept = PHOTOS.c.sha256.in_(photos)
    digests = connection.execute(select(PHOTOS.c.sha256).where(kept)).scalars().all()
    connection.execute(delete(PHOTOS).where(kept))
    gone = connection.execute(named).rowcount + len(digests)
    find_index.names_changed(connection, sequences)
    return Erased(count=gone, photos=tuple(sorted(digests)))


def keep_photo(connection: Connection, content: bytes) -> str:
    """Store a photo, in this transaction; its SHA-256 in hexadecimal."""
    digest = sha256(content).hexdigest()
    known = select(PHOTOS.c.sha256).where(PHOTOS.c.sha256 == digest)
    if connection.execute(known).first() is None:
        connection.execute(insert(PHOTOS), {"sha256": digest, "content": content})
    return digest


def photo(database: Database, digest: str) -> bytes | None:
    """A stored photo by its SHA-256; None where it is not (any more) there."""
    wanted = select(PHOTOS.c.content).where(PHOTOS.c.sha256 == digest)
    with database.reading() as connection:
        content = connection.execute(wanted).scalar()
    return None if content is None else bytes(content)

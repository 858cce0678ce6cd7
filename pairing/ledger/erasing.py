"""Erasing what is kept beside the entries, and keeping it, each in one transaction with the
entry that says so."""

from __future__ import annotations

from sqlalchemy import Connection

from pairing.errors import LedgerUnusable
from pairing.ledger import continuity, erasable, find_index, queries
from pairing.ledger.database import Database
from pairing.ledger.drafts import ERASED, Draft
from pairing.ledger.entries import Entry, Kind
from pairing.ledger.writer import Writer


def forget(database: Database, writer: Writer, number: str, *, desk: str, operator: str) -> int:
    """Erase names, addresses and photos of every piece that bears this number; how many. Raises
    LedgerUnusable, which says whether anything was erased."""
    erased = 0

    def work(connection: Connection) -> list[Draft]:
        nonlocal erased
        entries = _about(database, number)
        done = erasable.erase(connection, entries)
        erased = done.count
        if not erased:
            return []
        notes = [
            _of_photo(continuity.PHOTO_ERASED, digest, desk=desk, operator=operator)
            for digest in done.photos
        ]
        first = min(one.sequence for one in entries)
        said = Draft(kind=Kind.NOTE, desk=desk, operator=operator, refers=first, remark=ERASED)
        return [*notes, said]

    writer.append_with(work)
    try:
        # Where nothing is left to erase too: the step after an earlier erasing may have failed.
        find_index.merge(database)
        database.flush_erased()
    except LedgerUnusable as problem:
        raise LedgerUnusable(
            f"It is erased and recorded, but is not out of the database's files yet: "
            f"{problem.what}",
            where=problem.where,
            remedy="Make room, and have it erased once more.",
        ) from problem
    return erased


def keep_photo(writer: Writer, content: bytes, *, desk: str, operator: str) -> str:
    """Store a photo, and record that it was kept; its SHA-256 in hexadecimal."""
    digest = ""

    def work(connection: Connection) -> list[Draft]:
        nonlocal digest
        digest = erasable.keep_photo(connection, content)
        return [_of_photo(continuity.PHOTO_KEPT, digest, desk=desk, operator=operator)]

    writer.append_with(work)
    return digest


def _about(database: Database, number: str) -> list[Entry]:
    """The entries of every piece that bears this number, and what a list said of it."""
    story = queries.story(database, number)
    about = {sequence for piece in story.pieces for sequence in piece.history}
    articles = {one.article for one in story.entries if one.sequence in about} | {number}
    listed = (queries.story(database, one).expected for one in articles if one)
    about |= {one.entry.sequence for each in listed for one in each}
    own = {one.sequence: one for one in story.entries if number in (one.article, one.card)}
    for sequence in about - own.keys():
        if (entry := queries.entry(database, sequence)) is not None:
            own[sequence] = entry
    own |= {one.sequence: one for one in queries.referring(database, own)}
    return list(own.values())


def _of_photo(about: str, digest: str, *, desk: str, operator: str) -> Draft:
    remark = f"{about[:1].upper()}{about[1:]}{digest}"
    return Draft(
        kind=Kind.NOTE, desk=desk, operator=operator, remark=remark, key=f"{about}{digest}"
    )

"""Database errors become the library's own: what, where, and what to do next."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from pairing.errors import LedgerDamaged, LedgerUnusable

_NOTHING = "Nothing was recorded."

_SQLITE = {
    sqlite3.SQLITE_FULL: ("The disk is full", f"{_NOTHING} Free some space and offer it again."),
    sqlite3.SQLITE_READONLY: (
        "The ledger may only be read",
        f"{_NOTHING} Give this user the right to write the file and its folder.",
    ),
    sqlite3.SQLITE_BUSY: (
        "Another program keeps the ledger locked",
        f"{_NOTHING} Close what has it open (a backup, a database browser) and offer it again.",
    ),
    sqlite3.SQLITE_LOCKED: (
        "The ledger is locked",
        f"{_NOTHING} Close what has it open and offer it again.",
    ),
    sqlite3.SQLITE_CANTOPEN: (
        "The ledger cannot be opened",
        "Check that the folder exists and that this user may write it.",
    ),
    sqlite3.SQLITE_IOERR: (
        "The disk cannot write or read the ledger",
        f"{_NOTHING} Check the disk and its free space.",
    ),
}

_DAMAGE = (
    "The ledger is damaged",
    "Keep a copy of the file, verify it, and go back to the last backup that verifies.",
)

_NO_LEDGER = (
    "This file is not a ledger, or its beginning is damaged",
    f"Name the ledger's own file. If this is it: {_DAMAGE[1][0].lower()}{_DAMAGE[1][1:]}",
)

_POSTGRESQL = {
    "53": ("The database server is out of room", f"{_NOTHING} Free disk, memory or connections."),
    "25": (
        "The ledger may only be read",
        f"{_NOTHING} Connect to the primary server, as a user who may write.",
    ),
    "55": (
        "Another program keeps the ledger locked",
        f"{_NOTHING} Look for a transaction that was left open, and offer it again.",
    ),
    "28": ("The database server refuses this user", "Check user and password in the URL."),
    "3D": ("There is no such database", "Create it, or correct the URL."),
    "42": (
        "The ledger's tables cannot be used",
        "Check that this user owns the database, and that it is the ledger's own.",
    ),
    "57": ("The database server stops", f"{_NOTHING} Wait until it is up, and offer it again."),
}
"""By the first two digits of SQLSTATE (PostgreSQL, appendix A)."""


class SequenceTaken(Exception):
    """Another desk took this sequence first. Never leaves the ledger."""


@contextmanager
def as_ledger_errors(where: str, errors: tuple[type[BaseException], ...] = ()) -> Iterator[None]:
    """Turn database errors inside into `LedgerUnusable` or `LedgerDamaged` about `where`.

    errors: the driver's own error class, for statements that do not pass through SQLAlchemy.
    """
    kinds: tuple[type[BaseException], ...] = (SQLAlchemyError, sqlite3.Error, *errors)
    try:
        yield
    except kinds as problem:
        raise as_failure(problem, where) from problem
    except OSError as problem:
        raise LedgerUnusable(
            f"A file of the ledger cannot be used ({problem.strerror or problem})",
            where=str(problem.filename or where),
            remedy=f"{_NOTHING} Check the folder's rights and free space.",
        ) from problem


def as_failure(problem: BaseException, where: str) -> LedgerUnusable:
    """The library's own error for one of a database's."""
    inner = problem.orig if isinstance(problem, DBAPIError) and problem.orig else problem
    said = " ".join(str(inner).split())
    if isinstance(inner, sqlite3.Error):
        return _of_sqlite(inner, said, where)
    state = getattr(inner, "sqlstate", None)
    if state in {"XX001", "XX002"}:
        return LedgerDamaged(f"{_DAMAGE[0]} ({said})", where=where, remedy=_DAMAGE[1])
    if state is None:
        what, remedy = "The database server cannot be reached", "Check the URL, then the server."
    else:
        what, remedy = _POSTGRESQL.get(
            state[:2], ("The database refused", f"{_NOTHING} Report this with the message.")
        )
    return LedgerUnusable(f"{what} ({said})", where=where, remedy=remedy)


def _of_sqlite(problem: sqlite3.Error, said: str, where: str) -> LedgerUnusable:
    code = getattr(problem, "sqlite_errorcode", None)
    if (code or 0) & 0xFF == sqlite3.SQLITE_NOTADB:
        return LedgerDamaged(f"{_NO_LEDGER[0]} ({said})", where=where, remedy=_NO_LEDGER[1])
    if (code is None and "decode" in said) or (code or 0) & 0xFF == sqlite3.SQLITE_CORRUPT:
        return LedgerDamaged(f"{_DAMAGE[0]} ({said})", where=where, remedy=_DAMAGE[1])
    what, remedy = _SQLITE.get(
        (code or 0) & 0xFF,
        ("The database refused", f"{_NOTHING} Report this with the message."),
    )
    return LedgerUnusable(f"{what} ({said})", where=where, remedy=remedy)

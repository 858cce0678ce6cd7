"""A copy of the ledger while desks go on working."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import uuid
from collections.abc import Callable
from pathlib import Path

from pairing.errors import LedgerUnusable
from pairing.ledger.database import Database
from pairing.ledger.failures import as_ledger_errors
from pairing.ledger.keys import make_private
from pairing.output import flush_folder, give_name

PAGES_A_STEP = 1000
"""Pages copied between two calls of `progress`; 4 MB at SQLite's usual page size."""


def back_up(
    database: Database, target: Path, *, progress: Callable[[int, int], None] | None = None
) -> None:
    """Copy the ledger's database to `target`, which must not exist, as of one moment.

    The signing key is not copied. progress: called with pages done and pages in all.
    Raises LedgerUnusable; then `target` is not left behind.
    """
    if database.path is None:
        raise LedgerUnusable(
            "A ledger on a database server is backed up there",
            where=database.where,
            remedy="Use pg_dump, or export the ledger as JSON Lines.",
        )
    if target.exists():
        raise LedgerUnusable(
            "There is a file of that name already",
            where=str(target),
            remedy="Give the backup a name of its own.",
        )
    # Whoever is killed meanwhile leaves no half copy under the backup's name.
    draft = target.with_name(f".{target.name[:40]}.{uuid.uuid4().hex[:8]}")
    try:
        with as_ledger_errors(str(target)):
            make_private(draft)
            _copy(database, draft, progress)
            give_name(draft, target)
            flush_folder(target.parent)
    finally:
        with contextlib.suppress(OSError):
            draft.unlink()


def _copy(database: Database, target: Path, progress: Callable[[int, int], None] | None) -> None:
    def report(_status: int, remaining: int, total: int) -> None:
        if progress is not None:
            progress(total - remaining, total)

    source = database.raw()
    copy = sqlite3.connect(target)
    try:
        # One reading transaction: a writer in another process would make the copy start over.
        source.execute("BEGIN")
        source.execute("SELECT count(*) FROM alembic_version").fetchone()
        source.backup(copy, pages=PAGES_A_STEP, progress=report)
        source.execute("ROLLBACK")
        copy.execute("PRAGMA journal_mode = DELETE")  # one file, nothing beside it
    finally:
        copy.close()
        source.close()
    handle = os.open(target, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)

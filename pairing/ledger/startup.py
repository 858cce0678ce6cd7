"""What can be said about a ledger without walking it, for the start of a day."""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path

from pairing.findings import Code, Finding, Weight
from pairing.ledger import continuity, keys, queries
from pairing.ledger.database import Database
from pairing.ledger.drafts import SKEW


def at_start(database: Database, now: datetime) -> tuple[Finding, ...]:
    """A lost end or another one, a clock set back, a key or a ledger that others may read, a
    witness folder that cannot be written."""
    size = queries.size(database)
    last = queries.entry(database, size) if size else None
    key = continuity.key_path(database)
    found = [*continuity.tampering(database)]
    if last is not None and last.when - now > SKEW:
        found.append(Finding.of(Code.CLOCK_SET_BACK, weight=Weight.DOUBT, before=last.at))
    if not keys.is_private(key):
        found.append(Finding.of(Code.KEY_OPEN, path=str(key)))
    found += [Finding.of(Code.LEDGER_OPEN, path=str(one)) for one in _wide_open(database)]
    witness = continuity.witness_folder()
    if witness is not None and not (witness.is_dir() and os.access(witness, os.W_OK)):
        found.append(Finding.of(Code.WITNESS_MISSING, path=str(witness)))
    return tuple(found)


def _wide_open(database: Database) -> list[Path]:
    """SQLite's files that other users may read. Its logs are made with the ledger's own mode, and
    keep the one that it had then."""
    path = database.path
    if path is None:
        return []
    every = [path, *(path.with_name(f"{path.name}-{one}") for one in ("wal", "shm", "journal"))]
    return [one for one in every if not keys.is_private(one)]

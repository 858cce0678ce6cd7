"""What can be said about a ledger without walking it, for the start of a day."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from pairing.findings import Code, Finding, Weight
from pairing.ledger import keys, queries, watermark
from pairing.ledger.database import Database
from pairing.ledger.drafts import SKEW
from pairing.ledger.writer import key_path, mark_path


def at_start(database: Database, now: datetime) -> tuple[Finding, ...]:
    """A lost end, a clock set back, a key or a ledger that others may read."""
    mark = watermark.read(mark_path(database))
    size = queries.size(database)
    last = queries.entry(database, size) if size else None
    key = key_path(database)
    found = []
    if mark is not None and mark.size > size:
        found.append(
            Finding.of(
                Code.LEDGER_TRUNCATED,
                size=size,
                seen=mark.size,
                mark=str(mark_path(database)),
            )
        )
    if last is not None and last.when - now > SKEW:
        found.append(Finding.of(Code.CLOCK_SET_BACK, weight=Weight.DOUBT, before=last.at))
    if not keys.is_private(key):
        found.append(Finding.of(Code.KEY_OPEN, path=str(key)))
    found += [Finding.of(Code.LEDGER_OPEN, path=str(one)) for one in _wide_open(database)]
    return tuple(found)


def _wide_open(database: Database) -> list[Path]:
    """SQLite's files that other users may read; its logs have the ledger's own mode."""
    return [] if database.path is None or keys.is_private(database.path) else [database.path]

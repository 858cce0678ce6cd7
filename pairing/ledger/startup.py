"""What can be said about a ledger without walking it, for the start of a day."""

from __future__ import annotations

from datetime import datetime

from pairing.ledger import keys, queries, watermark
from pairing.ledger.database import Database
from pairing.ledger.drafts import SKEW
from pairing.ledger.writer import key_path, mark_path
from pairing.model import Finding, Weight


def at_start(database: Database, now: datetime) -> tuple[Finding, ...]:
    """A lost end, a clock set back, a key that others may read."""
    mark = watermark.read(mark_path(database))
    size = queries.size(database)
    last = queries.entry(database, size) if size else None
    key = key_path(database)
    found = []
    if mark is not None and mark.size > size:
        found.append(
            _warning(
                "ledger-truncated",
                f"The ledger has {size} entries; this machine has seen {mark.size}.",
                "Find out what became of it, and go back to the newest copy that verifies. To go "
                f"on without what is lost, note it and remove {mark_path(database)}.",
            )
        )
    if last is not None and last.when - now > SKEW:
        found.append(
            _warning(
                "clock-set-back",
                f"The last entry is of {last.at}, later than this machine's clock.",
                "Set the clock right.",
            )
        )
    if not keys.is_private(key):
        found.append(
            _warning(
                "key-open",
                f"Other users of this machine may read the signing key, {key}.",
                "Let nobody but its owner read it.",
            )
        )
    return tuple(found)


def _warning(code: str, message: str, action: str) -> Finding:
    return Finding(code=code, message=message, action=action, weight=Weight.DOUBT)

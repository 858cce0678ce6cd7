"""SQLite's own check of its file, done while the entries are walked."""

from __future__ import annotations

import threading
from typing import Self

from pairing.closing import Closing
from pairing.ledger.database import Database


class Soundness(Closing):
    """Runs the check in a thread, over a connection of its own: an index that misses an entry
    would let a number be taken twice. A server has its own tools; there it is always sound.
    """

    def __init__(self, database: Database) -> None:
        self._database = database
        self._said = "ok"
        self._connection = database.raw() if database.is_sqlite else None
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def close(self) -> None:
        """End the check, wherever it is."""
        if self._connection is not None:
            self._connection.interrupt()
            self._thread.join()
            self._connection.close()

    def said(self) -> str:
        """What the check says: "ok", or the first thing that is wrong. Waits for it."""
        self._thread.join()
        return self._said

    def _run(self) -> None:
        if self._connection is None:
            return
        try:
            (self._said,) = self._connection.execute("PRAGMA integrity_check(1)").fetchone()
        except self._database.errors as problem:
            self._said = str(problem)

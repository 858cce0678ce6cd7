"""A ledger's double in memory, quick, and made to fail where that is asked for."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

from pairing.desk.book import RunBook
from pairing.errors import LedgerUnusable
from pairing.ledger import Draft, Entry, Outcome

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)


class Record(RunBook):
    """A record in memory with all that the doors ask of a ledger; now and then it fails."""

    def __init__(self, fails: Callable[[], bool] = lambda: False) -> None:
        super().__init__(lambda: NOW)
        self._fails = fails

    def append(self, draft: Draft) -> Outcome:
        """Keep a draft, or say that it cannot be kept. Whoever hears that may be wrong."""
        if self._fails():
            raise LedgerUnusable("It is away", where="here", remedy="Wait.")
        outcome = super().append(draft)
        if self._fails():
            raise LedgerUnusable("It went away", where="here", remedy="Wait.")
        return outcome

    def entry(self, sequence: int) -> Entry | None:
        """The entry with this sequence."""
        return self._entries[sequence - 1] if 0 < sequence <= len(self._entries) else None

    @property
    def youngest_pair(self) -> int:
        """The sequence of the piece that was sealed last; 0 for none."""
        return max(self._standing.pieces, default=0)

    def standing(self) -> list[tuple[str, str, bool]]:
        """Label and card of every piece that holds them, and whether nothing contradicts it."""
        return [
            (one.article or "", one.card or "", one.contradicted is None)
            for one in self._standing.pieces.values()
            if one.state.value != "void"
        ]

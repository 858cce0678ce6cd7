"""What was done in a desk's day."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, tzinfo

from pairing.desk import dates
from pairing.ledger import Entry, Kind, Ledger, State
from pairing.model import Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class DayCount:
    """What was recorded since `since`; pieces and stops, each entry once.

    sealed: sealed pieces that are not voided, returned ones included. voided: sealed and voided
    since. differs, unread: stops by their verdict. here: of `sealed`, those of this desk.
    """

    since: datetime
    sealed: int
    here: int
    voided: int
    differs: int
    unread: int


def count_of(ledger: Ledger, *, desk: str, now: datetime, zone: tzinfo | None = None) -> DayCount:
    """The day's count, all desks of this ledger together. Raises LedgerUnusable."""
    since, _ = dates.span(dates.day_of(now, zone), zone)
    sealed = here = voided = 0
    for piece in ledger.pieces(since=since):
        is_void = piece.state is State.VOID
        voided += is_void
        sealed += not is_void
        here += not is_void and piece.first.desk == desk
    stopped = list(_stops(ledger.entries(kinds=(Kind.STOPPED,), since=since)))
    differs = stopped.count(Verdict.DIFFERS)
    return DayCount(
        since=since,
        sealed=sealed,
        here=here,
        voided=voided,
        differs=differs,
        unread=len(stopped) - differs,
    )


def _stops(entries: Iterable[Entry]) -> Iterable[Verdict | None]:
    return (entry.verdict for entry in entries)

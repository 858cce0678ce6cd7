"""Stopped pieces of which nothing became yet: neither sealed since, nor settled by a word.

A stop is settled once a piece with its label is accepted or corrected; where it has no label,
once one with its card is. An operator settles what ends otherwise (spoiled, handed back) with a
note that refers to the stop. A piece that was sealed before, and came once more without a
difference, needs nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from pairing.findings import Code
from pairing.ledger import Entry, Kind, Ledger
from pairing.model import Verdict

_SEALED_BEFORE = frozenset((Code.SEEN_AGAIN, Code.PIECE_RECORDED_BEFORE))
_KINDS = (Kind.PAIRED, Kind.STOPPED, Kind.CORRECTED, Kind.NOTE)


def unsettled(
    ledger: Ledger, *, since: datetime | None, until: datetime | None = None
) -> tuple[Entry, ...]:
    """The last stop of each such piece that was stopped in [since, until), oldest first. Raises
    LedgerUnusable."""
    stops: dict[str, Entry] = {}
    for entry in ledger.entries(kinds=_KINDS, since=since):
        if entry.kind is Kind.STOPPED:
            if not is_sealed_before(entry):
                stops.pop(_name(entry), None)  # the newest comes last
                stops[_name(entry)] = entry
        else:
            for name in _settled_by(entry, stops.values()):
                del stops[name]
    return tuple(one for one in stops.values() if until is None or one.when < until)


def is_sealed_before(stop: Entry) -> bool:
    """Whether the stop is of a piece that is sealed already, and nothing speaks against it."""
    codes = {one.code for one in stop.findings}
    return stop.verdict is not Verdict.DIFFERS and bool(codes & _SEALED_BEFORE)


def _name(stop: Entry) -> str:
    """What tells a stopped piece from another: its label, else its card, else the entry."""
    return stop.article or stop.card or f"entry {stop.sequence}"


def _settled_by(entry: Entry, stops: Iterable[Entry]) -> list[str]:
    if entry.kind is Kind.NOTE:
        is_word = entry.refers is not None and not entry.findings
        return [_name(one) for one in stops if is_word and one.sequence == entry.refers]
    # A piece whose label was not read is known by its card alone, or as what was corrected.
    mine = (entry.article, None if entry.article is None else entry.card)
    return [
        _name(one)
        for one in stops
        if (one.article is not None and one.article == mine[0])
        or (one.article is None and one.card is not None and one.card == mine[1])
        or one.sequence == entry.refers
    ]

"""What the operator sees: the day, and what went wrong where, from the ledger's entries."""

from __future__ import annotations

import threading
import time
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, timedelta
from itertools import islice
from typing import Any

from pairing.desk.dates import day_of, span
from pairing.desk.for_whom import described
from pairing.desk.outstanding import outstanding
from pairing.desk.unsettled import unsettled
from pairing.findings import Finding, Weight
from pairing.ledger import Entry, Kind, Ledger, Piece, State
from pairing.ledger.entries import at_text
from pairing.model import TrackingNumber, Verdict
from pairing.numbers import identify, printed

MOST_SHOWN = 100
"""Rows of a list on the page; the rest is counted."""

MOST_FOUND = 20
"""Hits of a search on the page."""

MOST_COUNTED = 2_000
"""Cards that have not come back are counted up to here."""

OUTSTANDING_FOR_S = 60.0

_WHOLE_NUMBERS = {"box-card-own", "box-other-piece", "box-pad-neighbour", "box-different"}
"""Errors that are no slip at one place of the number."""


def overview(
    ledger: Ledger, *, now: datetime, days: int, in_hand: int, cards: OutstandingCards
) -> dict[str, Any]:
    """All figures of the page. days: over how many the charts go, today included. Raises
    LedgerUnusable."""
    today, _ = span(day_of(now))
    pieces = list(ledger.pieces(since=today))
    stops = list(ledger.entries(kinds=(Kind.STOPPED,), since=today))
    charted = stops
    if days > 1:
        since, _ = span(day_of(now) - timedelta(days=days - 1))
        charted = list(ledger.entries(kinds=(Kind.STOPPED,), since=since))
    return {
        "at": at_text(now),
        "days": days,
        "today": _today(pieces, stops),
        "stops": _counted(_reason(one) for one in charted),
        "unfinished": _unfinished(unsettled(ledger, since=today), in_hand),
        "errors": _errors(charted),
        "outstanding": cards.shown(ledger, now),
    }


def _today(pieces: Sequence[Piece], stops: Sequence[Entry]) -> dict[str, Any]:
    rows = [_piece_row(one) for one in pieces] + [_stop_row(one) for one in stops]
    rows.sort(key=lambda row: str(row["at"]), reverse=True)
    differs = sum(one.verdict is Verdict.DIFFERS for one in stops)
    return {
        "sealed": sum(one.state is not State.VOID for one in pieces),
        "stopped": differs,
        "looked": len(stops) - differs,
        "pieces": rows[:MOST_SHOWN],
        "left_out": max(0, len(rows) - MOST_SHOWN),
    }


def _piece_row(one: Piece) -> dict[str, Any]:
    return {
        "at": one.first.at,
        "advice": "seal",
        "article": _printed(one.article),
        "card": _printed(one.card),
        "reason": "voided" if one.state is State.VOID else "",
    }


def _stop_row(one: Entry) -> dict[str, Any]:
    return {
        "at": one.at,
        "entry": one.sequence,
        "advice": "stop" if one.verdict is Verdict.DIFFERS else "look",
        "article": _printed(one.article),
        "card": _printed(one.card),
        "reason": _reason(one),
    }


def _unfinished(stops: Sequence[Entry], in_hand: int) -> dict[str, Any]:
    """Stopped today and not settled since, the newest first."""
    rows = [_stop_row(one) for one in reversed(stops)]
    return {
        "in_hand": in_hand,
        "pieces": rows[:MOST_SHOWN],
        "left_out": max(0, len(rows) - MOST_SHOWN),
    }


def _errors(stops: Iterable[Entry]) -> dict[str, Any]:
    """Copying errors in the box: by kind, and by place where they have one."""
    kinds: list[str] = []
    places: dict[int, Counter[int]] = {}
    sizes: dict[int, tuple[int, ...]] = {}
    for one in stops:
        for finding in _copying(one):
            kinds.append(finding.code)
            number = identify(one.article or "")
            if finding.code in _WHOLE_NUMBERS or not isinstance(number, TrackingNumber):
                continue
            length = len(number.text)
            sizes[length] = number.family.group_sizes
            places.setdefault(length, Counter()).update(
                place for place in finding.positions if 1 <= place <= length
            )
    return {
        "kinds": _counted(kinds),
        "places": [
            {
                "length": length,
                "group_sizes": list(sizes[length]),
                "counts": [found[place] for place in range(1, length + 1)],
            }
            for length, found in sorted(places.items(), key=lambda item: -item[1].total())
            if found
        ],
    }


def _copying(one: Entry) -> list[Finding]:
    return [
        finding
        for finding in one.said
        if finding.weight is Weight.CLASH and finding.code.startswith("box-")
    ]


def _reason(one: Entry) -> str:
    """The finding that weighs most, the first of its weight."""
    for weight in (Weight.CLASH, Weight.DOUBT):
        for finding in one.findings:
            if finding.weight is weight:
                return finding.code
    return ""


def _counted(codes: Iterable[str]) -> list[dict[str, Any]]:
    counts = Counter(code for code in codes if code)
    ordered = sorted(counts.items(), key=lambda item: (-item[1], item[0]))
    return [{"code": code, "count": count} for code, count in ordered]


def found(ledger: Ledger, text: str) -> dict[str, Any]:
    """What a name, a reference, a number, or a part of one is on; see `Ledger.find`. Raises
    LedgerUnusable."""
    hits = list(islice(ledger.find(text), MOST_FOUND + 1))
    return {
        "is_cut": len(hits) > MOST_FOUND,
        "hits": [
            {
                "at": hit.entry.at,
                "state": hit.state,
                "article": _printed(hit.article),
                "card": _printed(hit.card),
                "about": described(hit.about),
            }
            for hit in hits[:MOST_FOUND]
        ],
    }


class OutstandingCards:
    """The cards that have not come back; looked up again at most once a minute, because the whole
    ledger may have to be walked for them."""

    def __init__(self, ticks: Callable[[], float] = time.monotonic) -> None:
        self._ticks = ticks
        self._found: dict[str, Any] = {}
        self._until_s = 0.0
        self._turn = threading.Lock()

    def shown(self, ledger: Ledger, now: datetime) -> dict[str, Any]:
        """The oldest of them, and how many there are. Raises LedgerUnusable."""
        with self._turn:
            if not self._found or self._ticks() >= self._until_s:
                self._found = _outstanding(ledger, now)
                self._until_s = self._ticks() + OUTSTANDING_FOR_S
            return self._found


def _outstanding(ledger: Ledger, now: datetime) -> dict[str, Any]:
    found = list(islice(outstanding(ledger, now=now), MOST_COUNTED))
    return {
        "count": len(found),
        "is_cut": len(found) == MOST_COUNTED,
        "pieces": [
            {
                "at": one.piece.first.at,
                "days": one.days,
                "inquire_by": one.inquire_by.isoformat() if one.inquire_by else None,
                "article": _printed(one.piece.article),
                "card": _printed(one.piece.card),
            }
            for one in found[:MOST_SHOWN]
        ],
        "left_out": max(0, len(found) - MOST_SHOWN),
    }


def _printed(text: str | None) -> str:
    return printed(text)

"""What is the case about the numbers and the entry that a draft speaks of, looked up inside
the transaction that will record it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from pairing.ledger.canonical import decode
from pairing.ledger.edge import Fetcher
from pairing.ledger.entries import Draft, Entry, Kind
from pairing.ledger.related import gather
from pairing.ledger.state import Standing, fold

_ALONE = (Kind.STOPPED, Kind.NOTE, Kind.EXPECTED)
"""Kinds that are recorded whatever is the case."""


def standing_for(draft: Draft, fetcher: Fetcher, where: str) -> Standing:
    """The pieces and expectations that the draft may meet. Its cost does not grow with the
    ledger: every step goes through an index."""
    if draft.kind in _ALONE:
        return Standing()
    statements = fetcher.statements
    article = draft.article
    if draft.kind is Kind.RETURNED and draft.card is None:
        article = draft.article or draft.written
    rows = fetcher.rows(statements.touching, {"article": article, "card": draft.card})
    if not rows and draft.refers is None:
        return Standing()
    seeds = _decoded(rows, where)
    if draft.refers is not None:
        seeds += _decoded(fetcher.rows(statements.one, {"sequence": draft.refers}), where)
    return standing_around(seeds, fetcher, where)


def standing_around(seeds: Iterable[Entry], fetcher: Fetcher, where: str) -> Standing:
    """What is the case about these entries."""
    statements = fetcher.statements

    def one(sequence: int) -> list[Entry]:
        return _decoded(fetcher.rows(statements.one, {"sequence": sequence}), where)

    def referring(sequence: int) -> list[Entry]:
        return _decoded(fetcher.rows(statements.referring, {"refers": sequence}), where)

    return fold(gather(seeds, one=one, referring=referring))


def _decoded(found: Iterable[tuple[Any, ...]], where: str) -> list[Entry]:
    return [decode(data, where=f"{where}, entry {sequence}") for sequence, data in found]

"""Reading the ledger: entries in order, one number's whole story, pieces by state, and what
the judge has to know about earlier pieces and expected pairs."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, and_, func, or_, select

from pairing.ledger.database import Database
from pairing.ledger.entries import Entry, Kind, at_text, decode
from pairing.ledger.ruling import in_window
from pairing.ledger.schema import ENTRIES
from pairing.ledger.state import Expectation, Piece, Standing, State, fold, gather
from pairing.ledger.tip import subtree_in
from pairing.ledger.tree import root_of
from pairing.model import EarlierUse, ExpectedPair

CHUNK = 500
"""Entries fetched at once: no transaction stays open while a caller works, memory is flat."""

_T = ENTRIES.c
_FOUND = (_T.sequence, _T.canonical)


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """All that the ledger knows about one number.

    entries: those that name it, and those that hang together with these, in order.
    pieces: the pieces that bear it on label or card, or once did. expected: likewise.
    """

    number: str
    entries: tuple[Entry, ...]
    pieces: tuple[Piece, ...]
    expected: tuple[Expectation, ...]


def size(database: Database) -> int:
    """How many entries there are."""
    with database.reading() as connection:
        return connection.execute(select(func.max(_T.sequence))).scalar() or 0


def root(database: Database, first: int) -> bytes | None:
    """The tree's root over the first so many entries, from the stored hashes; None where there
    are not so many. Raises LedgerDamaged where hashes are missing."""
    with database.reading() as connection:
        if first > (connection.execute(select(func.max(_T.sequence))).scalar() or 0):
            return None

        def subtree(level: int, index: int) -> bytes:
            wanted = select(_T.nodes).where(_T.sequence == (index + 1) << level)
            nodes = connection.execute(wanted).scalar()
            return subtree_in(nodes or b"", level, index, database.where)

        return root_of(first, subtree)


def entry(database: Database, sequence: int) -> Entry | None:
    """The entry with this sequence, None where there is none."""
    with database.reading() as connection:
        return next(iter(_fetch(connection, database, _T.sequence == sequence)), None)


def offered(database: Database, key: str) -> Entry | None:
    """The entry that was offered with this idempotency key, None for none."""
    with database.reading() as connection:
        return next(iter(_fetch(connection, database, _T.key == key)), None)


def entries(
    database: Database,
    *,
    kinds: Collection[Kind] = (),
    since: datetime | None = None,
    until: datetime | None = None,
    first: int = 1,
) -> Iterator[Entry]:
    """Entries in the order of their sequence, from `first`; all kinds unless some are given.

    since, until: aware datetimes, half-open. Streams in flat memory; the ledger may grow
    meanwhile, and what is written after a span of time was looked up is not in it.
    """
    in_time = _in_time(since, until)
    of_kind = [_T.kind.in_([kind.value for kind in kinds])] if kinds else []
    after, last = first - 1, None
    if in_time:
        # Clocks may be set back, so a span of time is held against every entry between its
        # first and its last; the index over kind and time knows those two.
        with database.reading() as connection:
            ends = [_ends(connection, kind, in_time) for kind in kinds or tuple(Kind)]
        known = [end for end in ends if end is not None]
        if not known:
            return
        after, last = max(after, min(low for low, _ in known) - 1), max(high for _, high in known)
    while last is None or after < last:
        with database.reading() as connection:
            span = (_T.sequence > after) & (_T.sequence <= after + CHUNK)
            chunk = _fetch(connection, database, and_(span, *of_kind, *in_time))
            is_end = last is None and not chunk and after >= size(database)
        if is_end:
            return
        yield from chunk
        after += CHUNK


def story(database: Database, number: str) -> Story:
    """Everything about a number: as article, as card, or as what was written in a box."""
    named = or_(_T.article == number, _T.card == number, _T.elsewhere == number)
    with database.reading() as connection:
        found = together(connection, database, _fetch(connection, database, named))
    standing = fold(found)
    mentions = {one.sequence for one in found if number in (one.article, one.card)}
    return Story(
        number=number,
        entries=tuple(found),
        pieces=tuple(
            piece for piece in standing.pieces.values() if mentions.intersection(piece.history)
        ),
        expected=tuple(one for key, one in standing.expected.items() if key in mentions),
    )


def pieces(
    database: Database,
    *,
    states: Collection[State] = (),
    since: datetime | None = None,
    until: datetime | None = None,
) -> Iterator[Piece]:
    """Sealed pieces in order, as they are now; sealed in [since, until) if given."""
    source = entries(database, kinds=(Kind.PAIRED,), since=since, until=until)
    for chunk in _chunks(source):
        with database.reading() as connection:
            found = together(connection, database, chunk)
        standing = fold(found)
        wanted = (standing.pieces[one.sequence] for one in chunk)
        yield from (piece for piece in wanted if not states or piece.state in states)


def referring(database: Database, sequences: Collection[int]) -> tuple[Entry, ...]:
    """The entries that refer to these."""
    with database.reading() as connection:
        return tuple(_fetch(connection, database, _T.refers.in_(list(sequences))))


def together_with(database: Database, sequences: Collection[int]) -> list[Entry]:
    """These entries, and those that hang together with them, in order."""
    with database.reading() as connection:
        seeds = _fetch(connection, database, _T.sequence.in_(list(sequences)))
        return together(connection, database, seeds)


def bearing(database: Database, numbers: Collection[str]) -> tuple[Piece, ...]:
    """The pieces that have one of these numbers on label or card now, voided ones
    too, in order. For a few hundred numbers."""
    if not numbers:
        return ()
    named = or_(_T.article.in_(numbers), _T.card.in_(numbers))
    with database.reading() as connection:
        standing = fold(together(connection, database, _fetch(connection, database, named)))
    wanted = set(numbers)
    return tuple(
        piece for piece in standing.pieces.values() if wanted & {piece.article, piece.card}
    )


def earlier(
    database: Database, *, article: str | None, card: str | None, now: datetime
) -> tuple[EarlierUse, ...]:
    """Pieces that hold one of these numbers at `now`, for the judge. Void pieces and those
    whose window is over hold nothing."""
    standing = _standing_of(database, article=article, card=card)
    held = []
    for piece in standing.pieces.values():
        numbers = [one for one in (article, card) if one and one in (piece.article, piece.card)]
        if any(in_window(piece, number, now) for number in numbers):
            held.append(EarlierUse(piece=piece.name, article=piece.article, card=piece.card))
    return tuple(held)


def expected(
    database: Database, *, article: str | None, card: str | None, since: datetime
) -> tuple[ExpectedPair, ...]:
    """What the expected lists loaded since then say about these numbers, for the judge.

    Where there is such a list, but it knows neither number, one other pair of it is given,
    so that the judge does not take it for no list at all.
    """
    standing = _standing_of(database, article=article, card=card)
    at = at_text(since)
    live = [
        one.entry
        for one in standing.expected.values()
        if not one.is_withdrawn and one.entry.at >= at
    ]
    if not live:
        with database.reading() as connection:
            last = select(func.max(_T.at)).where(_T.kind == Kind.EXPECTED.value, _T.at >= at)
            newest = connection.execute(last).scalar()
            is_newest = (_T.kind == Kind.EXPECTED.value) & (_T.at == newest)
            live = _fetch(connection, database, is_newest)[:1] if newest else []
    return tuple(
        ExpectedPair(article=one.article or "", card=one.card, source=one.remark) for one in live
    )


def _standing_of(database: Database, *, article: str | None, card: str | None) -> Standing:
    named = or_(_T.article == article, _T.card == card)
    if article is None or card is None:
        named = _T.article == article if card is None else _T.card == card
    if article is None and card is None:
        return Standing()
    with database.reading() as connection:
        return fold(together(connection, database, _fetch(connection, database, named)))


def together(connection: Connection, database: Database, seeds: Sequence[Entry]) -> list[Entry]:
    """The seeds and what is connected with them. The first step is one query for all."""
    known: dict[int, list[Entry]] = {one.sequence: [] for one in seeds}
    if len(seeds) > 1:
        for one in _fetch(connection, database, _T.refers.in_(known)):
            known[one.refers or 0].append(one)

    def referring(sequence: int) -> Iterable[Entry]:
        if len(seeds) > 1 and sequence in known:
            return known[sequence]
        return _fetch(connection, database, _T.refers == sequence)

    def single(sequence: int) -> Iterable[Entry]:
        return _fetch(connection, database, _T.sequence == sequence)

    return gather(seeds, one=single, referring=referring)


def _in_time(since: datetime | None, until: datetime | None) -> list[ColumnElement[bool]]:
    since_it = [] if since is None else [_T.at >= at_text(since)]
    return since_it if until is None else [*since_it, _T.at < at_text(until)]


def _ends(
    connection: Connection, kind: Kind, in_time: Sequence[ColumnElement[bool]]
) -> tuple[int, int] | None:
    """The first and the last sequence of a kind in a span of time."""
    span = select(func.min(_T.sequence), func.max(_T.sequence)).where(
        _T.kind == kind.value, *in_time
    )
    low, high = connection.execute(span).one()
    return None if low is None else (low, high)


def _fetch(connection: Connection, database: Database, condition: Any) -> list[Entry]:
    rows = connection.execute(select(*_FOUND).where(condition).order_by(_T.sequence))
    return [_decoded(row, database.where) for row in rows]


def _decoded(row: Any, where: str) -> Entry:
    return decode(row.canonical, where=f"{where}, entry {row.sequence}")


def _chunks(source: Iterator[Entry]) -> Iterator[list[Entry]]:
    chunk: list[Entry] = []
    for one in source:
        chunk.append(one)
        if len(chunk) == CHUNK:
            yield chunk
            chunk = []
    if chunk:
        yield chunk

"""The search: entries by a number, a name, a reference, or a part of one.

Searched are the numbers of every entry and the names and addresses kept beside it. The index is
the database's own full-text index (SQLite's FTS5, PostgreSQL's GIN over `tsvector`) over grams
(`grams`). It is brought up to date by whoever searches, some entries at a time, and not by
whoever records: a desk waits for nothing more, and the index can be made anew at any time. What
the index gives is looked at once more beside the names as they are kept now, so that what was
erased is not found whatever the index says.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from sqlalchemy import Connection, func, inspect, select, text, update

from pairing.errors import LedgerUnusable
from pairing.ledger.canonical import names_in
from pairing.ledger.database import Database
from pairing.ledger.entries import found_by
from pairing.ledger.grams import Gram, Searched, Sought
from pairing.ledger.schema import ENTRIES, FIND_REACH, PARTICULARS

Progress = Callable[[int, int], None]
"""Called now and then with how many entries the index holds, and how many there are."""

CHUNK = 2_000
"""Entries taken into the index in one transaction; desks that record wait for no more."""

_CANDIDATES = 25
_MOST_CANDIDATES = 400
_MERGED_PAGES = 500
_IN_FRONT = {"sqlite": "rowid", "postgresql": "sequence"}
_NEAR = 2_000
"""Entries that a server reads from the youngest on before it asks its index: of what most entries
have it finds enough there."""
_STRETCH, _STRETCHES, _MORE = 10_000, 8, 6
"""A server's index cannot give the youngest first; it would read all that it finds to sort it. So
each entry's grams name the stretch of so many entries that it is in, and so many stretches are
asked at a time, each time more."""

_IN_SQLITE = text(
    "SELECT rowid FROM found WHERE found MATCH :asked AND rowid < :below "
    "ORDER BY rowid DESC LIMIT :most"
)
# OFFSET 0: these entries are read, and the index is not asked for all others too.
_AMONG_NEAR = text(
    "SELECT sequence FROM (SELECT sequence, grams FROM found "
    "WHERE sequence >= :low AND sequence < :below OFFSET 0) AS near "
    "WHERE grams @@ CAST(:asked AS tsquery) ORDER BY sequence DESC LIMIT :most"
)
# Ordered by an expression, so that no planner walks all entries in their order instead.
_AMONG_OTHERS = text(
    "SELECT sequence FROM found WHERE grams @@ CAST(:asked AS tsquery) AND sequence < :below "
    "ORDER BY sequence + 0 DESC LIMIT :most"
)
_PUT = {
    "sqlite": text("INSERT INTO found (rowid, grams) VALUES (:sequence, :grams)"),
    "postgresql": text(
        "INSERT INTO found (sequence, grams) "
        "VALUES (:sequence, array_to_tsvector(string_to_array(:grams, ' ')))"
    ),
}


def candidates(database: Database, sought: Sought) -> Iterator[tuple[int, dict[str, str]]]:
    """Sequences of the entries that are sought, the youngest first, each with its names and
    addresses. Streams."""
    asked = _worded(sought, is_sqlite=database.is_sqlite)
    if not asked:
        return
    below, most = 2**62, _CANDIDATES
    while True:
        with database.reading() as connection:
            sequences = _next(connection, asked, below, most, is_sqlite=database.is_sqlite)
            kept = _kept(connection, sequences)
        for sequence, searched, particulars in kept:
            if sought.is_in(searched):
                yield sequence, particulars
        if len(sequences) < most:
            return
        below, most = sequences[-1], min(most * 4, _MOST_CANDIDATES)


def _next(
    connection: Connection, asked: str, below: int, most: int, *, is_sqlite: bool
) -> list[int]:
    """Sequences below one, the youngest first."""
    rows: dict[str, object] = {"asked": asked, "below": below, "most": most}
    if is_sqlite:
        return list(connection.execute(_IN_SQLITE, rows).scalars())
    low = min(below, _reach(connection) + 1) - _NEAR
    found = list(connection.execute(_AMONG_NEAR, {**rows, "low": low}).scalars())
    last, many = (low - 1) // _STRETCH, _STRETCHES
    while len(found) < most and last >= 0:
        first = max(0, last - many + 1)
        stretches = " | ".join(f"'{_stretch(one)}'" for one in range(first, last + 1))
        rows |= {"asked": f"({asked}) & ({stretches})", "below": low, "most": most - len(found)}
        found += connection.execute(_AMONG_OTHERS, rows).scalars()
        last, many = first - 1, many * _MORE
    return found


def _stretch(number: int) -> str:
    """As the index takes it; no gram begins with this letter."""
    return f"b{number}"


def bring_up_to_date(database: Database, progress: Progress | None = None) -> None:
    """Take into the index what was recorded since. Raises LedgerUnusable."""
    with database.reading() as connection:
        if not inspect(connection).has_table("find_reach"):
            raise LedgerUnusable(
                "This ledger has no index for the search yet, and cannot be given one",
                where=database.where,
                remedy="Open it where it may be written, or copy it to such a place.",
            )
    while True:
        with database.reading() as connection:
            reach, size = _reach(connection), _size(connection)
        if progress is not None:
            progress(reach, size)
        if reach >= size:
            return
        with database.writing() as connection:
            # Somebody else may have searched meanwhile.
            reach = _reach(connection)
            _take(connection, range(reach + 1, min(reach + CHUNK, size) + 1))
            _set_reach(connection, max(reach, min(reach + CHUNK, size)))


def names_changed(connection: Connection, sequences: Sequence[int]) -> None:
    """Names and addresses of these entries came or went, in this transaction: the index takes
    them anew as far as it goes."""
    if not sequences or not inspect(connection).has_table("find_reach"):
        return
    reach = _reach(connection)
    within = sorted(one for one in set(sequences) if one <= reach)
    for at in range(0, len(within), CHUNK):
        _take(connection, within[at : at + CHUNK])


def merge(database: Database) -> None:
    """What was taken out of SQLite's index leaves its pages too, in small steps that others can
    record between. A server's index is left to its own vacuum."""
    if not database.is_sqlite:
        return
    pages = -_MERGED_PAGES  # a negative number merges everything in the end
    while True:
        with database.writing() as connection:
            if not inspect(connection).has_table("find_reach"):
                return
            before = connection.exec_driver_sql("SELECT total_changes()").scalar() or 0
            connection.exec_driver_sql(
                "INSERT INTO found (found, rank) VALUES ('merge', ?)", (pages,)
            )
            after = connection.exec_driver_sql("SELECT total_changes()").scalar() or 0
        if after - before < 2:  # nothing was left to be merged (SQLite's documentation of FTS5)
            return
        pages = _MERGED_PAGES


def _take(connection: Connection, sequences: Sequence[int]) -> None:
    """Put these entries into the index, in place of what it had of them."""
    if not sequences:
        return
    dialect = connection.dialect.name
    ends = {"first": min(sequences), "last": max(sequences)}
    is_span = len(sequences) == ends["last"] - ends["first"] + 1
    column = _IN_FRONT[dialect]
    if is_span:
        connection.execute(text(f"DELETE FROM found WHERE {column} BETWEEN :first AND :last"), ends)
    else:
        gone = text(f"DELETE FROM found WHERE {column} = :sequence")
        connection.execute(gone, [{"sequence": one} for one in sequences])
    rows: list[dict[str, Any]] = [
        {"sequence": sequence, "grams": " ".join(grams)}
        for sequence, searched, _ in _kept(connection, sequences)
        if (grams := searched.grams())
    ]
    if dialect == "postgresql":
        for row in rows:
            row["grams"] = f"{row['grams']} {_stretch(row['sequence'] // _STRETCH)}"
    if rows:
        connection.execute(_PUT[dialect], rows)


def _kept(
    connection: Connection, sequences: Sequence[int]
) -> list[tuple[int, Searched, dict[str, str]]]:
    """What is searched of these entries, in the order given."""
    joined = select(ENTRIES.c.sequence, ENTRIES.c.canonical, PARTICULARS.c.content).outerjoin(
        PARTICULARS, PARTICULARS.c.sequence == ENTRIES.c.sequence
    )
    found = {}
    for row in connection.execute(joined.where(ENTRIES.c.sequence.in_(list(sequences)))):
        said = found_by(row.canonical)
        names = {} if row.content is None else names_in(bytes(row.content))
        numbers = (said.article, said.card, said.written)
        found[row.sequence] = (Searched.of(numbers, names), names)
    return [(one, *found[one]) for one in sequences if one in found]


def _worded(sought: Sought, *, is_sqlite: bool) -> str:
    """The search in the database's own words. Grams hold nothing that those could mean."""

    def gram(one: Gram) -> str:
        if is_sqlite:
            return f'"{one.text}"{" *" if one.is_start else ""}'
        return f"'{one.text}'{':*' if one.is_start else ''}"

    both, either = (" AND ", " OR ") if is_sqlite else (" & ", " | ")
    return both.join(
        "(" + either.join("(" + both.join(map(gram, way)) + ")" for way in ways) + ")"
        for ways in sought.asked()
    )


def _reach(connection: Connection) -> int:
    return connection.execute(select(FIND_REACH.c.sequence)).scalar() or 0


def _set_reach(connection: Connection, sequence: int) -> None:
    connection.execute(update(FIND_REACH).values(sequence=sequence))


def _size(connection: Connection) -> int:
    return connection.execute(select(func.max(ENTRIES.c.sequence))).scalar() or 0

"""The statements of the append path: written in SQLAlchemy Core, compiled once, and given to
the driver as they are.

Going through SQLAlchemy for each of them cost more than the commit itself (measured by
`tests/benchmarks/ledger.py`: 0.4 ms against 0.2 ms a piece on a fast disk).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Dialect, bindparam, func, insert, select, union_all

from pairing.ledger.schema import ENTRIES, HEADS, PARTICULARS, SIGNERS


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """sql: for the driver. order: names of its parameters, in their order, where the driver
    wants a sequence; None where it wants a mapping."""

    sql: str
    order: tuple[str, ...] | None

    def bound(self, values: Mapping[str, Any]) -> Any:
        """The parameters as the driver wants them."""
        return values if self.order is None else tuple([values[name] for name in self.order])


@dataclass(frozen=True, slots=True, kw_only=True)
class Statements:
    """All of them, for one kind of database.

    last: sequence, at, nodes of the last entry. after: sequence, nodes of those after
    `sequence`. nodes, one, by_key: by primary key or idempotency key. touching: entries with
    this article or card. referring: entries that refer to this one; both give sequence and
    bytes.
    """

    last: Statement
    after: Statement
    nodes: Statement
    one: Statement
    by_key: Statement
    touching: Statement
    referring: Statement
    insert_entry: Statement
    insert_particulars: Statement
    signer: Statement
    signers: Statement
    insert_signer: Statement
    head: Statement
    insert_head: Statement


def compiled(dialect: Dialect) -> Statements:
    """The statements in this dialect."""
    table = ENTRIES.c
    found = (table.sequence, table.canonical)
    parts = {
        "last": select(table.sequence, table.at, table.nodes).where(
            table.sequence == select(func.max(table.sequence)).scalar_subquery()
        ),
        "after": select(table.sequence, table.nodes)
        .where(table.sequence > bindparam("sequence"))
        .order_by(table.sequence),
        "nodes": select(table.nodes).where(table.sequence == bindparam("sequence")),
        "one": select(*found).where(table.sequence == bindparam("sequence")),
        "by_key": select(*found).where(table.key == bindparam("key")),
        "touching": union_all(
            select(*found).where(table.article == bindparam("article")),
            select(*found).where(table.card == bindparam("card")),
        ),
        "referring": select(*found).where(table.refers == bindparam("refers")),
        "insert_entry": insert(ENTRIES),
        "insert_particulars": insert(PARTICULARS),
        "signer": select(SIGNERS.c.key_id).where(SIGNERS.c.key_id == bindparam("key_id")),
        "signers": select(SIGNERS.c.key_id).order_by(SIGNERS.c.key_id),
        "insert_signer": insert(SIGNERS),
        "head": select(HEADS.c.size).where(
            HEADS.c.size == bindparam("size"), HEADS.c.key_id == bindparam("key_id")
        ),
        "insert_head": insert(HEADS),
    }
    return Statements(**{name: _compiled(part, dialect) for name, part in parts.items()})


def _compiled(part: Any, dialect: Dialect) -> Statement:
    done = part.compile(dialect=dialect)
    order = tuple(done.positiontup) if done.positional else None
    return Statement(sql=str(done), order=order)


class Fetcher:
    """Runs the compiled statements over one cursor."""

    def __init__(self, cursor: Any, statements: Statements) -> None:
        self.cursor = cursor
        self.statements = statements

    def rows(self, statement: Statement, values: Mapping[str, Any]) -> list[tuple[Any, ...]]:
        """Every row."""
        self.cursor.execute(statement.sql, statement.bound(values))
        found: list[tuple[Any, ...]] = self.cursor.fetchall()
        return found

    def do(self, statement: Statement, values: Mapping[str, Any]) -> None:
        """Run a statement that gives no rows."""
        self.cursor.execute(statement.sql, statement.bound(values))

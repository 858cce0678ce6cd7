"""The tables, for SQLAlchemy Core. How they came to be is in `migrations`.

An entry's bytes stand in `canonical` as they were hashed. The other columns of `entries`
repeat some of its members to find it by; `verification` checks that they agree. `nodes` holds
the hashes of the subtrees that the entry completes (see `tree`), so that no other row has to
be written for the tree.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Column,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
)

META = MetaData()

HEAD_REVISION = "0001"
"""The youngest schema version that this version of the program knows."""

_LONG = BigInteger().with_variant(Integer(), "sqlite")

ENTRIES = Table(
    "entries",
    META,
    Column("sequence", _LONG, primary_key=True, autoincrement=False),
    Column("at", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("article", Text),
    Column("card", Text),
    Column("elsewhere", Text),
    Column("refers", _LONG),
    Column("key", Text),
    Column("nodes", LargeBinary, nullable=False),
    Column("canonical", LargeBinary, nullable=False),
)

SIGNERS = Table(
    "signers",
    META,
    Column("key_id", Text, primary_key=True),
    Column("public", LargeBinary, nullable=False),
)

HEADS = Table(
    "heads",
    META,
    Column("size", _LONG, primary_key=True, autoincrement=False),
    Column("key_id", Text, primary_key=True),
    Column("day", Text, nullable=False),
    Column("at", Text, nullable=False),
    Column("root", LargeBinary, nullable=False),
    Column("signature", LargeBinary, nullable=False),
)

PARTICULARS = Table(
    "particulars",
    META,
    Column("sequence", _LONG, primary_key=True, autoincrement=False),
    Column("salt", LargeBinary, nullable=False),
    Column("content", LargeBinary, nullable=False),
)

PHOTOS = Table(
    "photos",
    META,
    Column("sha256", Text, primary_key=True),
    Column("content", LargeBinary, nullable=False),
)


def partial(name: str, *, unique: bool = False) -> Index:
    """An index over those entries that have a value in column `name`."""
    column = ENTRIES.c[name]
    has_value = column.is_not(None)
    return Index(
        f"entries_{name}",
        column,
        unique=unique,
        sqlite_where=has_value,
        postgresql_where=has_value,
    )


INDEXES = (
    partial("article"),
    partial("card"),
    partial("elsewhere"),
    partial("refers"),
    partial("key", unique=True),
    Index("entries_kind_at", ENTRIES.c.kind, ENTRIES.c.at),
)

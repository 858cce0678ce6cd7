"""The tables, for SQLAlchemy Core, and the way to them from nothing or an older version
(`migrations`).

The column `canonical` holds an entry's bytes as they were hashed. The other columns of `entries`
repeat some of its members to find it by; `verification` checks that they agree. `nodes` holds
the hashes of the subtrees that the entry completes (see `tree`), so that no other row has to
be written for the tree.
"""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import (
    BigInteger,
    Column,
    Connection,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    inspect,
    text,
)

from pairing.errors import LedgerUnusable

META = MetaData()

HEAD_REVISION = "0004"
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

FIND_REACH = Table(
    "find_reach",
    META,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("sequence", _LONG, nullable=False),
)
"""How far the search's index goes (`find_index`). The index itself, `found`, is no table that both
databases know; `migrations` has it."""


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


KNOWN = ("0001", "0002", "0003", "0004")
"""Every schema version, oldest first."""


def revision(connection: Connection) -> str | None:
    """The schema version of the database, None where there is no ledger in it yet."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    return connection.execute(text("SELECT version_num FROM alembic_version")).scalar()


def is_current(connection: Connection, where: str) -> bool:
    """Whether the tables are as this program wants them. Raises LedgerUnusable where a
    newer version of the program made them, or where they are another program's."""
    found = revision(connection)
    if found is None:
        if inspect(connection).has_table("entries"):
            raise LedgerUnusable(
                "This database holds tables of another program",
                where=where,
                remedy="Give the ledger a database of its own.",
            )
        return False
    if found not in KNOWN:
        raise LedgerUnusable(
            f"This ledger was made by a newer version of Counterfoil (schema {found}; "
            f"known are {KNOWN[0]} to {HEAD_REVISION})",
            where=where,
            remedy="Install that version, or open an older backup.",
        )
    return found == HEAD_REVISION


def upgrade(connection: Connection) -> None:
    """Bring the tables up to date, inside the connection's transaction."""
    # Alembic takes longer to import than everything else here, and is needed once a ledger.
    from alembic import command  # noqa: PLC0415
    from alembic.config import Config  # noqa: PLC0415

    config = Config()
    config.set_main_option(
        "script_location", str(Path(__file__).parent / "migrations").replace("%", "%%")
    )
    config.attributes["connection"] = connection
    command.upgrade(config, "head")

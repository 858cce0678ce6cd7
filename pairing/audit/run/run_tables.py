"""The tables that keep a run, on SQLite and PostgreSQL alike, and their version."""

from __future__ import annotations

from functools import cache
from typing import Any

from sqlalchemy import (
    JSON,
    BigInteger,
    Column,
    Connection,
    DateTime,
    ForeignKey,
    Identity,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    func,
    inspect,
    select,
    text,
    update,
)
from sqlalchemy.dialects import postgresql, sqlite

from pairing.errors import OutputRefused

INSERT: dict[str, Any] = {"sqlite": sqlite.insert, "postgresql": postgresql.insert}
"""What makes an insert that may meet its own key, by the backend's name."""

VERSION = 2
"""1 kept readings by the photo's path, in another form: they are dropped, and the photos read
again; rows and decisions stay."""

METADATA = MetaData()


def _of_run(*, is_key: bool = True) -> Column[int]:
    return Column("run", Integer, ForeignKey("audit_runs.run"), primary_key=is_key)


VERSIONS = Table("audit_version", METADATA, Column("version", Integer, nullable=False))
RUNS = Table(
    "audit_runs",
    METADATA,
    Column("run", Integer, Identity(always=True), primary_key=True),
    Column("name", Text, nullable=False, unique=True),
    Column("head", JSON, nullable=False),
    Column("turn", Integer, nullable=False, server_default="0"),
    Column("begun", DateTime(timezone=True), nullable=False, server_default=func.now()),
    Column("finished", DateTime(timezone=True)),
)
PHOTOS = Table(
    "audit_photos",
    METADATA,
    _of_run(),
    Column("photo", Text, primary_key=True),
    Column("size", BigInteger, nullable=False),
    Column("stamp", Text, nullable=False),
    Column("shows", Text, nullable=False),
    Column("sha256", Text, nullable=False),
    Column("day", Text, nullable=False),
    Column("unusable", Text, nullable=False),
    Column("remedy", Text, nullable=False),
)
"""What each photo was when it was looked at last: its bytes' digest, or why it is of no use."""
READINGS = Table(
    "audit_readings",
    METADATA,
    _of_run(),
    Column("sha256", Text, primary_key=True),
    Column("shows", Text, primary_key=True),
    Column("reader", Text, nullable=False),
    Column("reading", LargeBinary, nullable=False),
)
"""What was read of a photo with these bytes, said to show this side, and by which reader: a
photo that was moved or renamed is not read again."""
ROWS = Table(
    "audit_rows",
    METADATA,
    _of_run(),
    Column("piece", Text, primary_key=True),
    Column("place", Integer, nullable=False),
    Column("verdict", Text, nullable=False),
    Column("article", Text),
    Column("card", Text),
    Column("turn", Integer, nullable=False),
    Column("row", JSON, nullable=False),
    Index("audit_rows_article", "article"),
    Index("audit_rows_card", "card"),
)
DECISIONS = Table(
    "audit_decisions",
    METADATA,
    _of_run(),
    Column("piece", Text, primary_key=True),
    Column("decision", JSON, nullable=False),
)
CROPS = Table(
    "audit_crops",
    METADATA,
    _of_run(),
    Column("key", Text, primary_key=True),
    Column("label", LargeBinary, nullable=False),
    Column("box", LargeBinary, nullable=False),
)


def version_of(db: Connection, where: str) -> int:
    """The tables' version; 0 where there are none. Raises OutputRefused where a newer program
    made them, or another one."""
    found = inspect(db)
    if not found.has_table(VERSIONS.name):
        if found.has_table(RUNS.name):
            raise OutputRefused(
                f"This database holds tables of another program ({RUNS.name})",
                where=where,
                remedy="Give the results a database of their own.",
            )
        return 0
    version = int(db.execute(select(VERSIONS.c.version)).scalar_one())
    if not 1 <= version <= VERSION:
        raise OutputRefused(
            f"These results were made by a newer version of Counterfoil (tables' version "
            f"{version}; known are 1 to {VERSION})",
            where=where,
            remedy="Install that version, or name another place for the results.",
        )
    return version


def bring_up(db: Connection, where: str) -> None:
    """Make the tables, or bring them up to this program's version."""
    version = version_of(db, where)
    if version == 1:
        db.execute(text(f"DROP TABLE {READINGS.name}"))
    METADATA.create_all(db)
    if version == 0:
        db.execute(VERSIONS.insert().values(version=VERSION))
    db.execute(update(VERSIONS).values(version=VERSION))


@cache
def upsert(table: Table, backend: str) -> Any:
    """The statement that adds a row to a table, or takes the place of the one with its key. Built
    once: built anew for each photo it took as long as adding the row."""
    keys = [column.name for column in table.primary_key]
    adds = INSERT[backend](table)
    changed = {
        column.name: adds.excluded[column.name]
        for column in table.columns
        if column.name not in keys
    }
    return adds.on_conflict_do_update(index_elements=keys, set_=changed)

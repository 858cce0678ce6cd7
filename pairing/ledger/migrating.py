"""Bring a ledger's tables to the schema that this program knows, or refuse a newer one."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, inspect, text

from pairing.errors import LedgerUnusable
from pairing.ledger.schema import HEAD_REVISION

KNOWN = ("0001",)
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

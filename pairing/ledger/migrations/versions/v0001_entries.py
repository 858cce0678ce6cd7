"""The first schema. Written out in full: it must not change when `schema` does."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

_LONG = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

_POSTGRESQL_GUARD = """
CREATE FUNCTION entries_never_change() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'entries never change'; END $$
"""


def upgrade() -> None:
    """Make the tables, their indexes, and the guard over the entries."""
    op.create_table(
        "entries",
        sa.Column("sequence", _LONG, primary_key=True, autoincrement=False),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("at", "kind")),
        *(sa.Column(name, sa.Text) for name in ("article", "card", "elsewhere")),
        sa.Column("refers", _LONG),
        sa.Column("key", sa.Text),
        *(sa.Column(name, sa.LargeBinary, nullable=False) for name in ("nodes", "canonical")),
    )
    for name in ("article", "card", "elsewhere", "refers", "key"):
        has_value = sa.text(f"{name} IS NOT NULL")
        op.create_index(
            f"entries_{name}",
            "entries",
            [name],
            unique=name == "key",
            sqlite_where=has_value,
            postgresql_where=has_value,
        )
    op.create_index("entries_kind_at", "entries", ["kind", "at"])
    _beside_the_entries()
    _guard()


def _beside_the_entries() -> None:
    op.create_table(
        "signers",
        sa.Column("key_id", sa.Text, primary_key=True),
        sa.Column("public", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "heads",
        sa.Column("size", _LONG, primary_key=True, autoincrement=False),
        sa.Column("key_id", sa.Text, primary_key=True),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("day", "at")),
        *(sa.Column(name, sa.LargeBinary, nullable=False) for name in ("root", "signature")),
    )
    op.create_table(
        "particulars",
        sa.Column("sequence", _LONG, primary_key=True, autoincrement=False),
        *(sa.Column(name, sa.LargeBinary, nullable=False) for name in ("salt", "content")),
    )
    op.create_table(
        "photos",
        sa.Column("sha256", sa.Text, primary_key=True),
        sa.Column("content", sa.LargeBinary, nullable=False),
    )


def _guard() -> None:
    """Against accidents; whoever means harm drops it, and `verify` finds what they did."""
    if op.get_bind().dialect.name == "sqlite":
        for event in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER entries_no_{event.lower()} BEFORE {event} ON entries "
                "BEGIN SELECT RAISE(ABORT, 'entries never change'); END"
            )
        return
    op.execute(_POSTGRESQL_GUARD)
    op.execute(
        "CREATE TRIGGER entries_guard BEFORE UPDATE OR DELETE OR TRUNCATE ON entries "
        "FOR EACH STATEMENT EXECUTE FUNCTION entries_never_change()"
    )

"""The index that the search goes through. Written out in full: it must not change when
`schema` does. It is filled by the searches themselves (`find_index`)."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

_LONG = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the index, empty, and the place where it says how far it goes."""
    reach = op.create_table(
        "find_reach",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("sequence", _LONG, nullable=False),
    )
    op.bulk_insert(reach, [{"id": 1, "sequence": 0}])
    if op.get_bind().dialect.name == "sqlite":
        op.execute(
            "CREATE VIRTUAL TABLE found USING fts5"
            "(grams, tokenize = \"ascii tokenchars '_'\", detail = none)"
        )
        return
    op.execute("CREATE TABLE found (sequence BIGINT PRIMARY KEY, grams TSVECTOR NOT NULL)")
    op.execute("CREATE INDEX found_grams ON found USING GIN (grams)")

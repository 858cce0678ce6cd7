"""The search's index is emptied: what was in it was cut in another way (`grams`). Searches fill
it again. Written out in full, as its predecessors."""

from __future__ import annotations

from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the index anew, empty."""
    op.execute("DROP TABLE found")
    op.execute("UPDATE find_reach SET sequence = 0")
    if op.get_bind().dialect.name == "sqlite":
        op.execute(
            "CREATE VIRTUAL TABLE found USING fts5"
            "(grams, tokenize = \"ascii tokenchars '_'\", detail = none)"
        )
        return
    op.execute("CREATE TABLE found (sequence BIGINT PRIMARY KEY, grams TSVECTOR NOT NULL)")
    op.execute("CREATE INDEX found_grams ON found USING GIN (grams)")

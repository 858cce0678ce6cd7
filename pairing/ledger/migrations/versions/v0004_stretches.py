"""A server's search index is emptied: what is put into it now names the stretch of entries that it
is of (`find_index`). Searches fill it again. Written out in full, as its predecessors."""

from __future__ import annotations

from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Empty a server's index; a file's is as it was."""
    if op.get_bind().dialect.name == "postgresql":
        op.execute("TRUNCATE found")
        op.execute("UPDATE find_reach SET sequence = 0")

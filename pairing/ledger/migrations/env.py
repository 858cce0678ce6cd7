"""Run by Alembic: migrates over the connection that `migrating` hands it."""

from __future__ import annotations

from alembic import context

context.configure(
    connection=context.config.attributes["connection"],
    transaction_per_migration=False,
)
context.run_migrations()

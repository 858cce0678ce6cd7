"""Schema versions, for Alembic; they ship with the package and are run by `migrating`."""

"""The PostgreSQL server that the ledger's tests start."""

from __future__ import annotations

from tests.ledger.conftest import postgres_server

__all__ = ["postgres_server"]

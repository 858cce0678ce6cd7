"""Desks that work at the same time, each in a process of its own: copies of one that has loaded
what a ledger needs, and has nothing open."""

from __future__ import annotations

import multiprocessing

TOGETHER = multiprocessing.get_context("forkserver")
TOGETHER.set_forkserver_preload(
    ["pairing.desk.daylist", "pairing.ledger", "psycopg", "sqlalchemy.dialects.postgresql.psycopg",
     "tests.ledger.test_desk_work", "tests.ledger.test_desks"]
)  # fmt: skip

"""Ledgers for the tests: on SQLite, and on a PostgreSQL server that the tests start."""

from __future__ import annotations

import os
import pwd
import shutil
import sqlite3
import subprocess
import tempfile
import uuid
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from pairing.ledger import Ledger
from tests.ledger.making import Clock, pair, returned


@pytest.fixture
def clock() -> Clock:
    """A clock to be set."""
    return Clock()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A closed ledger of 40 entries under one signed head, no more beside it than belongs."""
    place = tmp_path / "ledger.db"
    with Ledger.open(str(place), clock=Clock()) as ledger:
        for number in range(1, 40):
            ledger.append(pair(number, number, operator=f"clerk {number:03d}"))
        ledger.append(returned(3, 3))
        ledger.sign_head()
    with closing(sqlite3.connect(place)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.execute("PRAGMA journal_mode = DELETE")
    return place


@pytest.fixture
def tool(path: Path) -> Iterator[sqlite3.Connection]:
    """A database tool in the hands of somebody who has taken the guard away."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("DROP TRIGGER entries_no_update")
        connection.execute("DROP TRIGGER entries_no_delete")
        yield connection


@pytest.fixture
def ledger(tmp_path: Path, clock: Clock) -> Iterator[Ledger]:
    """A new ledger on SQLite."""
    with Ledger.open(str(tmp_path / "ledger.db"), clock=clock) as opened:
        yield opened


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[Callable[[], str]]:
    """Starts a server; the fixture is a function that makes a database and gives its URL."""
    pytest.importorskip("psycopg")
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/pg_ctl"), key=_version)
    pg_ctl = str(found[-1]) if found else shutil.which("pg_ctl")
    if pg_ctl is None:
        pytest.skip("needs a PostgreSQL server's programs (Debian: apt install postgresql)")
    user = _unprivileged()
    folder = Path(tempfile.mkdtemp(prefix="counterfoil-pg-"))
    if user is not None:
        shutil.chown(folder, user)
    programs = Path(pg_ctl).parent
    data = folder / "data"

    def run(*command: str) -> None:
        subprocess.run(command, check=True, user=user, cwd=folder, stdout=subprocess.DEVNULL)

    run(str(programs / "initdb"), "-D", str(data), "-U", "desk", "-A", "trust", "-E", "UTF8")
    options = f"-k {folder} -c listen_addresses='' -c max_connections=50"
    run(pg_ctl, "-D", str(data), "-w", "-l", str(folder / "log"), "-o", options, "start")

    def make() -> str:
        name = f"ledger_{uuid.uuid4().hex}"
        run(str(programs / "createdb"), "-h", str(folder), "-U", "desk", name)
        return f"postgresql://desk@/{name}?host={folder}"

    try:
        yield make
    finally:
        run(pg_ctl, "-D", str(data), "-m", "immediate", "stop")
        shutil.rmtree(folder)


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """A place for a new ledger, on either database."""
    if request.param == "sqlite":
        return str(tmp_path / "shared.db")
    made: str = request.getfixturevalue("postgres_server")()
    return made


def _unprivileged() -> str | None:
    """The server refuses to run as root."""
    if os.geteuid() != 0:
        return None
    for name in ("postgres", "nobody"):
        try:
            return pwd.getpwnam(name).pw_name
        except KeyError:
            continue
    pytest.skip("a PostgreSQL server does not run as root, and there is no other user")


def _version(path: Path) -> int:
    part = path.parts[-3]
    return int(part) if part.isdigit() else 0

"""The way to the database that keeps a run: a file in the run's folder, or a PostgreSQL server;
and what to do when it refuses."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, create_engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError
from sqlalchemy.pool import NullPool

from pairing.errors import CounterfoilError, EngineMissing, OutputRefused

LOCK_CLASS = 0x4155_4449
"""First half of the advisory locks' numbers (the ASCII codes of AUDI); the second is a run's
number, 0 while tables are made. The ledger's lock is one number of 64 bits, which PostgreSQL
keeps apart from pairs."""

_LINK = {
    "connect_timeout": 10,
    # A machine that lost power must not keep its lock for the two hours that systems take.
    "keepalives_idle": 30,
    "keepalives_interval": 10,
    "keepalives_count": 6,
}
"""libpq's connection parameters (PostgreSQL manual, 34.1.2); what the URL says goes first."""

_SETTINGS = {
    "postgresql": (
        # An immediate end of the server may cost the last photos, which are then read again; the
        # rows' own transaction waits for the disk. A killed run loses nothing that it sent.
        "SET synchronous_commit = off",
        "SET tcp_keepalives_idle = 30",
        "SET tcp_keepalives_interval = 10",
        "SET tcp_keepalives_count = 6",
    ),
    "sqlite": (
        # One process has the file; so its log needs no shared memory, which network folders lack.
        "PRAGMA locking_mode = EXCLUSIVE",
        "PRAGMA journal_mode = WAL",
        # A killed process loses nothing; a machine that loses power, the last photos.
        "PRAGMA synchronous = NORMAL",
        "PRAGMA temp_store = FILE",
    ),
}

_KEPT = "What was read so far is kept: run the same command again."

_REFUSALS = {
    "08": ("The connection to the results was lost", f"Check server and network. {_KEPT}"),
    "25": (
        "The results may only be read",
        "Connect to the primary server, as a user who may write.",
    ),
    "42501": (
        "This user may not do that in the results' database",
        "Give the right to make tables in it (GRANT CREATE ON SCHEMA), or to read and write its "
        "tables audit_*; and to make temporary tables.",
    ),
    "42": (
        "The results' tables cannot be used",
        "Check that nothing but Counterfoil made the tables audit_* of this database.",
    ),
    "53": ("The database server is out of room", f"Free disk, memory or connections. {_KEPT}"),
    "57014": (
        "The database server broke off a statement",
        f"Ask for a longer statement_timeout for this user. {_KEPT}",
    ),
    "57": ("The database server ended the connection", f"Wait until it is up. {_KEPT}"),
}
"""By SQLSTATE (PostgreSQL manual, appendix A), or its first two digits."""
_NO_CONNECTION = (
    "The results' database cannot be opened",
    "Check server, user, password and database in the URL; then whether the server is up.",
)
_UNKNOWN = ("The results' database refused", "Report this with the message.")
_FILE = (
    "The run's folder cannot be written",
    f"Make room, or name a folder that you may write to with --out. {_KEPT}",
)


def server(given: str) -> URL:
    """The URL of a PostgreSQL database. Raises OutputRefused where it is none."""
    try:
        url = make_url(given)
        if url.get_backend_name() == "postgresql":
            url = url.set(drivername="postgresql+psycopg")
            url.get_dialect()().create_connect_args(url)
            return url
        shown = for_people(url)
    except (ArgumentError, NoSuchModuleError, ValueError) as problem:
        # What cannot be taken apart may still hold a password.
        shown = re.sub(r"(password=)[^&\s]*", r"\1***", re.sub(r"://.*@", "://***@", given))
        raise _no_server(shown) from problem
    raise _no_server(shown)


def file(path: Path) -> URL:
    """The URL of a SQLite file."""
    return URL.create("sqlite", database=os.fspath(path.absolute()))


def for_people(url: URL) -> str:
    """The URL without the secrets in it; of a file, its path."""
    if url.get_backend_name() == "sqlite":
        return url.database or ""
    names = [name for name in url.query if "password" in name]
    shown = url.difference_update_query(names).set(drivername="postgresql")
    return shown.render_as_string(hide_password=True)


def connected(url: URL) -> Connection:
    """A connection that is never made again by itself: a lock that it holds is held until the
    connection is lost. The caller closes it. Raises EngineMissing, OutputRefused."""
    name = url.get_backend_name()
    link = {key: value for key, value in _LINK.items() if key not in url.query}
    try:
        engine = create_engine(
            url,
            poolclass=NullPool,
            connect_args=link if name == "postgresql" else {"check_same_thread": False},
            # Rows are kept as the JSON text that they are.
            json_serializer=_unchanged,
            json_deserializer=_unchanged,
        )
    except ImportError as error:
        raise EngineMissing(
            f"The driver for that database cannot be loaded ({error})",
            where=for_people(url),
            remedy="Run pip install --upgrade 'counterfoil[postgres]'.",
        ) from error
    event.listen(engine, "connect", _once(url))
    try:
        return engine.connect()
    except DBAPIError as error:
        # What the server answered is in the message alone; it comes without SQLSTATE.
        raise _failure(error, url, _NO_CONNECTION) from error


def _unchanged(text: str | bytes) -> str | bytes:
    return text


def _once(url: URL) -> Callable[[Any, Any], None]:
    """Sets up the first connection, and refuses a second one: whoever lost the connection has
    lost the run's lock with it."""
    made: list[Any] = []

    def set_up(connection: Any, _record: Any) -> None:
        if made:
            raise lost(url)
        made.append(connection)
        cursor = connection.cursor()
        for setting in _SETTINGS[url.get_backend_name()]:
            cursor.execute(setting)
        cursor.close()
        connection.commit()

    return set_up


def lost(url: URL) -> OutputRefused:
    """The error for a connection that is gone."""
    what, remedy = _REFUSALS["08"]
    return OutputRefused(what, where=for_people(url), remedy=remedy)


@contextmanager
def transaction(connection: Connection, url: URL) -> Iterator[Connection]:
    """A transaction; the database's errors inside become OutputRefused."""
    try:
        with connection.begin():
            yield connection
    except DBAPIError as error:
        otherwise = _REFUSALS["08"] if error.connection_invalidated else _UNKNOWN
        raise _failure(error, url, otherwise) from error


def _failure(problem: DBAPIError, url: URL, otherwise: tuple[str, str]) -> CounterfoilError:
    """The library's own error for one of the driver's. otherwise: what went wrong where the
    server does not say."""
    said = " ".join(str(problem.orig).split())
    if url.get_backend_name() == "sqlite":
        what, remedy = _FILE
    else:
        if url.password:
            said = said.replace(str(url.password), "***")
        state = getattr(problem.orig, "sqlstate", None)
        what, remedy = otherwise
        if state is not None:
            what, remedy = _REFUSALS.get(state) or _REFUSALS.get(state[:2]) or _UNKNOWN
    return OutputRefused(f"{what} ({said})", where=for_people(url), remedy=remedy)


def _no_server(shown: str) -> OutputRefused:
    return OutputRefused(
        "This URL names no PostgreSQL database for the results",
        where=shown,
        remedy="Give postgresql://USER@HOST/DATABASE.",
    )

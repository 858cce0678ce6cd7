"""The way to a PostgreSQL server that keeps results, the version of its tables, and what to do
when it refuses."""

from __future__ import annotations

import importlib
import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError

from pairing.errors import EngineMissing, OutputRefused

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

_SETTINGS = (
    # An immediate end of the server may cost the last photos, which are then read again; the
    # rows' own transaction waits for the disk. A killed run loses nothing that it sent.
    "SET synchronous_commit = off",
    "SET tcp_keepalives_idle = 30",
    "SET tcp_keepalives_interval = 10",
    "SET tcp_keepalives_count = 6",
)

_VERSIONS = (
    """
    CREATE TABLE audit_version (version integer NOT NULL);
    INSERT INTO audit_version VALUES (0);
    CREATE TABLE audit_runs (
        run integer GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
        name text NOT NULL UNIQUE,
        head json NOT NULL,
        turn integer NOT NULL DEFAULT 0,
        begun timestamptz NOT NULL DEFAULT now(),
        finished timestamptz
    );
    CREATE TABLE audit_readings (
        run integer NOT NULL REFERENCES audit_runs,
        photo text NOT NULL,
        sha256 bytea NOT NULL,
        line text NOT NULL,
        PRIMARY KEY (run, photo)
    );
    CREATE TABLE audit_rows (
        run integer NOT NULL REFERENCES audit_runs,
        piece text NOT NULL,
        place integer NOT NULL,
        verdict text NOT NULL,
        article text,
        card text,
        turn integer NOT NULL,
        "row" json NOT NULL,
        PRIMARY KEY (run, piece)
    );
    CREATE INDEX audit_rows_article ON audit_rows (article);
    CREATE INDEX audit_rows_card ON audit_rows (card);
    CREATE TABLE audit_decisions (
        run integer NOT NULL REFERENCES audit_runs,
        piece text NOT NULL,
        decision json NOT NULL,
        PRIMARY KEY (run, piece)
    );
    """,
)
"""What makes each version of the tables of the one before."""

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
        "tables audit_*.",
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
_NO_WAY = (
    "The results' database cannot be opened",
    "Check server, user, password and database in the URL; then whether the server is up.",
)
_UNKNOWN = ("The results' server refused", "Report this with the message.")


def place(given: str) -> URL:
    """The URL, taken apart. Raises OutputRefused where it names no PostgreSQL database."""
    try:
        parsed = make_url(given)
        if parsed.get_backend_name() == "postgresql":
            _parameters(parsed)
    except (ArgumentError, ValueError) as problem:
        # What cannot be taken apart may still hold a password.
        shown = re.sub(r"(password=)[^&\s]*", r"\1***", re.sub(r"://.*@", "://***@", given))
        raise _no_place(shown) from problem
    if parsed.get_backend_name() != "postgresql":
        raise _no_place(for_people(parsed))
    return parsed


def for_people(url: URL) -> str:
    """The URL without the secrets in it."""
    names = [name for name in url.query if "password" in name]
    return url.difference_update_query(names).render_as_string(hide_password=True)


def connected(url: URL) -> Any:
    """A connection of its own, in autocommit mode, that is never made anew by itself: a lock
    that it holds is held until it is lost. The caller closes it. Raises EngineMissing,
    OutputRefused."""
    where = for_people(url)
    try:
        driver: Any = importlib.import_module("psycopg")
    except ImportError as error:
        raise EngineMissing(
            f"What speaks to that database is not installed ({error})",
            where=where,
            remedy="Install Counterfoil with its extra: pip install 'counterfoil[postgres]'.",
        ) from error
    try:
        connection = driver.connect(autocommit=True, **{**_LINK, **_parameters(url)})
    except driver.Error as error:
        # What the server answered is in the message alone; it comes without SQLSTATE.
        raise _failure(error, url, _NO_WAY) from error
    with told(connection, url):
        for setting in _SETTINGS:
            connection.execute(setting)
    return connection


def _parameters(url: URL) -> dict[str, Any]:
    """The URL as libpq's connection parameters."""
    dialect = url.set(drivername="postgresql+psycopg").get_dialect()()
    return dict(dialect.create_connect_args(url)[1])


@contextmanager
def told(connection: Any, url: URL) -> Iterator[None]:
    """The driver's errors inside become OutputRefused."""
    driver: Any = importlib.import_module("psycopg")
    try:
        yield
    except driver.Error as error:
        otherwise = _REFUSALS["08"] if connection.closed else _UNKNOWN
        raise _failure(error, url, otherwise) from error


def _failure(problem: Exception, url: URL, otherwise: tuple[str, str]) -> OutputRefused:
    """The library's own error for one of the driver's. otherwise: what went wrong where the
    server does not say."""
    said = " ".join(str(problem).split())
    if url.password:
        said = said.replace(str(url.password), "***")
    state = getattr(problem, "sqlstate", None)
    what, remedy = otherwise
    if state is not None:
        what, remedy = _REFUSALS.get(state) or _REFUSALS.get(state[:2]) or _UNKNOWN
    return OutputRefused(f"{what} ({said})", where=for_people(url), remedy=remedy)


def bring_up(connection: Any, url: URL) -> None:
    """Make the tables, or bring them up to this program's version. Raises OutputRefused where
    a newer program made them, or another one."""
    with told(connection, url):
        if _version(connection, url) == len(_VERSIONS):
            return
        # Before the transaction: a table that another machine made while it waited is not seen
        # by one that has begun.
        connection.execute("SELECT pg_advisory_lock(%s, 0)", (LOCK_CLASS,))
        with connection.transaction():
            for step in _VERSIONS[_version(connection, url) :]:
                connection.execute(step)
            connection.execute("UPDATE audit_version SET version = %s", (len(_VERSIONS),))
        connection.execute("SELECT pg_advisory_unlock(%s, 0)", (LOCK_CLASS,))


def _version(connection: Any, url: URL) -> int:
    """0 where there is nothing yet."""
    known, others = connection.execute(
        "SELECT to_regclass('audit_version'), to_regclass('audit_runs')"
    ).fetchone()
    if known is None:
        if others is not None:
            raise OutputRefused(
                "This database holds tables of another program (audit_runs)",
                where=for_people(url),
                remedy="Give the results a database of their own.",
            )
        return 0
    (found,) = connection.execute("SELECT version FROM audit_version").fetchone()
    if not 1 <= found <= len(_VERSIONS):
        raise OutputRefused(
            f"These results were made by a newer version of Counterfoil (tables' version {found}; "
            f"known are 1 to {len(_VERSIONS)})",
            where=for_people(url),
            remedy="Install that version, or give another database.",
        )
    return int(found)


def _no_place(url: str) -> OutputRefused:
    return OutputRefused(
        "This names no place for results",
        where=url,
        remedy="Give postgresql://USER@HOST/DATABASE.",
    )

"""Where the ledger lies, and connections to it: SQLite in WAL mode, or PostgreSQL."""

from __future__ import annotations

import hashlib
import os
import re
import sqlite3
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import platformdirs
from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError

from pairing.errors import LedgerUnusable
from pairing.ledger import keys, schema
from pairing.ledger.failures import as_ledger_errors

VARIABLE = "COUNTERFOIL_LEDGER"
"""The environment variable that names the ledger where no option does."""

LOCK_ID = 0x434F_554E_5445_5246
"""PostgreSQL's advisory lock for whoever appends; the ASCII codes of COUNTERF."""

_WRITES = "counterfoil_writes"
_AGAIN_S = 0.02
"""Between two tries to turn the write-ahead log on."""


def ledger_url(given: str | None = None, environ: Mapping[str, str] | None = None) -> str:
    """The ledger to use: as given, else from the environment, else the user's own file."""
    known = os.environ if environ is None else environ
    return given or known.get(VARIABLE) or str(_user_folder() / "ledger.sqlite3")


class Database:
    """One ledger's database.

    path: SQLite's file, None for a server. where: for messages, without a password.
    files: the path that key and watermark are named after.
    errors: the driver's error class.
    """

    def __init__(
        self,
        url: str,
        *,
        patience_s: float = 10.0,
        files: Path | None = None,
        must_exist: bool = False,
    ) -> None:
        parsed = _parsed(url)
        self.is_sqlite = parsed.get_backend_name() == "sqlite"
        self.path = Path(parsed.database or "") if self.is_sqlite else None
        self.where = str(self.path) if self.path else parsed.render_as_string(hide_password=True)
        self.files = files or self.path or _folder_of_server(self.where)
        self.patience_s = patience_s
        try:
            self.engine = self._engine(parsed)
        except ImportError as problem:
            raise LedgerUnusable(
                f"The driver for that database {_state(problem)} ({problem})",
                where=self.where,
                remedy="Run pip install --upgrade '.[postgres]' in Counterfoil's folder.",
            ) from problem
        self.errors: tuple[type[BaseException], ...] = (self.engine.dialect.loaded_dbapi.Error,)
        self._prepare(must_exist=must_exist)

    def close(self) -> None:
        """Give every connection back."""
        self.engine.dispose()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that sees one state of the ledger throughout."""
        with as_ledger_errors(self.where), self.engine.connect() as connection:
            if not self.is_sqlite:
                connection.execution_options(isolation_level="REPEATABLE READ")
            with connection.begin():
                yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction during which nobody else writes; committed at the end."""
        with as_ledger_errors(self.where), self.engine.connect() as connection:
            connection.execution_options(**{_WRITES: True})
            with connection.begin():
                if not self.is_sqlite:
                    connection.execute(text("SELECT pg_advisory_xact_lock(:id)"), {"id": LOCK_ID})
                yield connection

    def raw(self) -> Any:
        """A driver's connection of its own, in autocommit mode; the caller closes it."""
        pooled = self.engine.raw_connection()
        connection = pooled.driver_connection
        pooled.detach()
        if not self.is_sqlite:
            connection.autocommit = True  # type: ignore[union-attr]
        return connection

    def flush_erased(self) -> None:
        """Move what was erased out of SQLite's log file too."""
        if self.is_sqlite:
            with as_ledger_errors(self.where):
                connection = self.raw()
                try:
                    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
                finally:
                    connection.close()

    def _engine(self, url: URL) -> Engine:
        if not self.is_sqlite:
            milliseconds = int(self.patience_s * 1000)
            options = f"-c lock_timeout={milliseconds} -c synchronous_commit=on"
            return create_engine(
                url, connect_args={"options": options, "connect_timeout": 10}, pool_pre_ping=True
            )
        engine = create_engine(
            url, connect_args={"timeout": self.patience_s, "check_same_thread": False}
        )

        def set_up(connection: Any, _record: object) -> None:
            _set_up_sqlite(connection, self.patience_s)

        event.listen(engine, "connect", set_up)
        event.listen(engine, "begin", _begin_sqlite)
        return engine

    def _prepare(self, *, must_exist: bool) -> None:
        """Make folder, file and tables where they are not there yet, unless they must be."""
        if self.path is not None:
            with as_ledger_errors(str(self.path.parent)):
                # SQLite takes an empty file for a new database, and writes to it.
                if must_exist and (not self.path.exists() or self.path.stat().st_size == 0):
                    raise _no_ledger(self.where)
                mode = keys.PRIVATE_FOLDER_MODE  # of a folder that is made here
                self.path.parent.mkdir(parents=True, exist_ok=True, mode=mode)
                keys.make_private(self.path)
        with self.reading() as connection:
            is_current = schema.is_current(connection, self.where)
            if must_exist and not is_current and schema.revision(connection) is None:
                raise _no_ledger(self.where)
            is_older = not is_current and schema.revision(connection) is not None
        if is_current:
            return
        try:
            with self.writing() as connection:
                # Another desk may have been faster.
                if not schema.is_current(connection, self.where):
                    schema.upgrade(connection)
        except LedgerUnusable:
            # An older ledger that may only be read lacks nothing but the search's index.
            if not is_older:
                raise


def _state(problem: ImportError) -> str:
    is_absent = isinstance(problem, ModuleNotFoundError)
    return "is not installed" if is_absent else "is installed and cannot be loaded"


def _parsed(url: str) -> URL:
    if "://" not in url:
        return URL.create("sqlite", database=str(Path(url).expanduser()))
    try:
        parsed = make_url(url)
    except (ArgumentError, ValueError) as problem:
        # What cannot be taken apart may still hold a password.
        raise _bad_url(re.sub(r"://.*@", "://***@", url)) from problem
    backend = parsed.get_backend_name()
    if backend == "sqlite" and parsed.database not in (None, "", ":memory:"):
        return parsed
    if backend == "postgresql":
        return parsed.set(drivername="postgresql+psycopg")
    raise _bad_url(parsed.render_as_string(hide_password=True))


def _bad_url(url: str) -> LedgerUnusable:
    return LedgerUnusable(
        "This names no place for a ledger",
        where=url,
        remedy="Give a file's path, sqlite:///FILE, or postgresql://USER@HOST/DATABASE.",
    )


def _no_ledger(where: str) -> LedgerUnusable:
    return LedgerUnusable(
        "There is no ledger there",
        where=where,
        remedy="Check --ledger and COUNTERFOIL_LEDGER; the first piece recorded makes a ledger.",
    )


def _user_folder() -> Path:
    return platformdirs.user_data_path("counterfoil", appauthor=False)


def _folder_of_server(where: str) -> Path:
    digest = hashlib.sha256(where.encode()).hexdigest()[:16]
    return _user_folder() / f"server-{digest}"


def _set_up_sqlite(connection: Any, patience_s: float) -> None:
    # The driver must not open transactions by itself: BEGIN IMMEDIATE is ours to say.
    connection.isolation_level = None
    cursor = connection.cursor()
    try:
        _write_ahead(cursor, patience_s)
    except sqlite3.OperationalError as problem:
        # A backup on a medium that cannot be written is still read; writing will say so.
        if problem.sqlite_errorcode & 0xFF != sqlite3.SQLITE_READONLY:
            raise
    cursor.execute("PRAGMA synchronous = FULL")  # a commit is on the disk when it returns
    # A piece touches five pages, so the usual 1000 would mean a checkpoint every 200 pieces.
    cursor.execute("PRAGMA wal_autocheckpoint = 4000")
    cursor.execute("PRAGMA secure_delete = ON")  # what is forgotten leaves the file
    cursor.execute("PRAGMA trusted_schema = OFF")
    cursor.close()


def _write_ahead(cursor: Any, patience_s: float) -> None:
    """Turn the log on. SQLite's own timeout does not cover this one step: it refuses at once
    while another connection holds a new ledger's write lock."""
    last = time.monotonic() + patience_s
    while True:
        try:
            cursor.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as problem:
            is_busy = problem.sqlite_errorcode & 0xFF == sqlite3.SQLITE_BUSY
            if not is_busy or time.monotonic() > last:
                raise
            time.sleep(_AGAIN_S)
        else:
            return


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get(_WRITES)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

"""One run's results in a database that several machines share: what was read of each photo, the
rows, and what people said of them. Whoever holds the run keeps others out of it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from itertools import islice
from types import TracebackType
from typing import Any, Self

from pairing.audit.run import server
from pairing.audit.run.journal import first_difference
from pairing.errors import OutputRefused, TableUnusable

_MANY = 200
"""Lines or rows that are in memory at once."""
_PATIENCE_MS = 5000
"""A run that was killed just now still has its lock until the server notices."""

_KEEP_LINE = """
INSERT INTO audit_readings (run, photo, sha256, line) VALUES (%s, %s, %s, %s)
ON CONFLICT (run, photo) DO UPDATE SET sha256 = excluded.sha256, line = excluded.line
"""
_KEEP_ROW = """
INSERT INTO audit_rows (run, piece, place, verdict, article, card, turn, "row")
VALUES (%s, %s, %s, %s, %s, %s, %s, %s)
ON CONFLICT (run, piece) DO UPDATE SET place = excluded.place, verdict = excluded.verdict,
    article = excluded.article, card = excluded.card, turn = excluded.turn, "row" = excluded."row"
"""
_KEEP_DECISION = """
INSERT INTO audit_decisions (run, piece, decision) VALUES (%s, %s, %s)
ON CONFLICT (run, piece) DO UPDATE SET decision = excluded.decision
"""


class Results:
    """A connection to the database, and from `begin` on the run. Use it in a `with`.

    One connection does everything, and holds the run's advisory lock: whoever has lost it can
    write nothing more, even if nobody told them. (A pool between that hands out connections by
    the transaction does not keep such a lock.)
    """

    def __init__(self, url: str, *, name: str) -> None:
        """name: of the run, among those of the database. Makes the tables where they are not
        there. Raises OutputRefused, EngineMissing."""
        self._url = server.place(url)
        self.where = f"{server.for_people(self._url)}, run {name}"
        self._name = name
        self._run: int | None = None
        self._connection = server.connected(self._url)
        try:
            server.bring_up(self._connection, self._url)
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the run. What was kept is kept."""
        with suppress(Exception):  # it may be lost already
            self._connection.close()

    def begin(self, head: Mapping[str, Any]) -> None:
        """Take the run for this process, until it is closed. head: what the run is, as in
        `Journal`. Raises OutputRefused where another process has it or it is another run."""
        if self._run is not None:
            return
        with server.told(self._connection, self._url):
            self._connection.execute(
                "INSERT INTO audit_runs (name, head) VALUES (%s, %s) ON CONFLICT DO NOTHING",
                (self._name, json.dumps(head)),
            )
            wanted = "SELECT run, head FROM audit_runs WHERE name = %s"
            number, found = self._connection.execute(wanted, (self._name,)).fetchone()
            self._lock(number)
        if found != head:
            raise OutputRefused(
                f"Another audit has this name ({first_difference(found, head)})",
                where=self.where,
                remedy="Name another run with --run, or ask for the same as before.",
            )
        self._run = number

    def kept(self) -> Iterator[tuple[str, bytes]]:
        """Photos whose line is there, and the line's SHA-256; streams. Other calls may come
        between."""
        with (
            server.told(self._connection, self._url),
            self._connection.transaction(),
            self._connection.cursor(name="kept") as cursor,
        ):
            cursor.itersize = 10 * _MANY
            wanted = "SELECT photo, sha256 FROM audit_readings WHERE run = %s"
            cursor.execute(wanted, (self._run,))
            for photo, sha256 in cursor:
                yield photo, bytes(sha256)

    def lines(self, photos: Iterable[str]) -> Iterator[str]:
        """The lines of these photos, in any order. Raises TableUnusable for one that is not
        what was kept."""
        wanted = "SELECT photo, sha256, line FROM audit_readings WHERE run = %s AND photo = ANY(%s)"
        for some in _by(_MANY, photos):
            with server.told(self._connection, self._url):
                found = self._connection.execute(wanted, (self._run, some)).fetchall()
            for photo, sha256, line in found:
                if digest(line) != bytes(sha256) or "\n" in line:
                    raise TableUnusable(
                        "What was read before of this photo is damaged",
                        where=f"{self.where}: {photo}",
                        remedy="Name another run with --run and read the photos again.",
                    )
                yield line

    def keep(self, lines: Iterable[str]) -> None:
        """Lines of photos, as `taking` makes them; a photo's earlier one gives way. When this
        returns a killed process loses none of them."""
        for some in _by(_MANY, lines):
            with server.told(self._connection, self._url), self._connection.cursor() as cursor:
                if len(some) == 1:
                    cursor.execute(_KEEP_LINE, self._columns(some[0]))
                    continue
                with self._connection.transaction():
                    cursor.executemany(_KEEP_LINE, [self._columns(line) for line in some])

    def decisions(self) -> list[dict[str, Any]]:
        """What people said of the rows."""
        with server.told(self._connection, self._url):
            found = self._connection.execute(
                "SELECT decision FROM audit_decisions WHERE run = %s", (self._run,)
            )
            return [decision for (decision,) in found]

    def finish(
        self, rows: Iterable[Mapping[str, Any]], decisions: Iterable[Mapping[str, Any]]
    ) -> None:
        """Put the lot's rows, all of them, in the place of those that are there: at once, and
        on the disk when this returns. Decisions are added to those that are there."""
        with (
            server.told(self._connection, self._url),
            self._connection.transaction(),
            self._connection.cursor() as cursor,
        ):
            cursor.execute("SET LOCAL synchronous_commit = on")
            cursor.execute(
                "UPDATE audit_runs SET turn = turn + 1, finished = now() WHERE run = %s "
                "RETURNING turn",
                (self._run,),
            )
            (turn,) = cursor.fetchone()
            for some in _by(_MANY, enumerate(rows)):
                cursor.executemany(
                    _KEEP_ROW, [self._cells(place, row, turn) for place, row in some]
                )
            cursor.execute(
                "DELETE FROM audit_rows WHERE run = %s AND turn <> %s", (self._run, turn)
            )
            for said in _by(_MANY, decisions):
                cursor.executemany(
                    _KEEP_DECISION,
                    [(self._run, _plain(one["piece"]), json.dumps(one)) for one in said],
                )

    def _lock(self, number: int) -> None:
        execute = self._connection.execute
        key = (server.LOCK_CLASS, number)
        (has_it,) = execute("SELECT pg_try_advisory_lock(%s, %s)", key).fetchone()
        if has_it:
            return
        execute(f"SET lock_timeout = {_PATIENCE_MS}")
        try:
            execute("SELECT pg_advisory_lock(%s, %s)", key)
        except Exception as error:
            if getattr(error, "sqlstate", None) != "55P03":  # lock_not_available
                raise
            raise OutputRefused(
                "Another run of this lot is at work",
                where=self.where,
                remedy="Wait for it to end, or name another run with --run.",
            ) from error
        execute("SET lock_timeout = 0")

    def _columns(self, line: str) -> tuple[Any, ...]:
        return (self._run, _plain(json.loads(line)["photo"]), digest(line), line)

    def _cells(self, place: int, row: Mapping[str, Any], turn: int) -> tuple[Any, ...]:
        text = json.dumps(row, separators=(",", ":"))
        known = (row["verdict"], row["article"], row["card"])
        return (self._run, _plain(row["piece"]), place, *known, turn, text)


def digest(line: str) -> bytes:
    """SHA-256 of a line without its line feed."""
    return hashlib.sha256(line.encode("utf-8", "surrogateescape")).digest()


def _plain(text: str) -> str:
    """PostgreSQL keeps no NUL, and no half of a surrogate pair."""
    return text.encode("utf-8", "backslashreplace").decode().replace("\0", "\\x00")


def _by(many: int, items: Iterable[Any]) -> Iterator[list[Any]]:
    source = iter(items)
    while some := list(islice(source, many)):
        yield some

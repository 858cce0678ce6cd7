"""What a run keeps: what was read of each photo, the rows, what people said of them, crops.

One store for each run: a SQLite file in the run's folder, or a PostgreSQL database that several
machines share. Whoever has a run open keeps others out of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, suppress
from itertools import islice
from pathlib import Path
from typing import Any, TypeVar

import msgspec
from sqlalchemy import Connection, Table, bindparam, delete, func, select, text, update

from pairing.audit.run import connection, run_folder
from pairing.audit.run import run_tables as tables
from pairing.audit.run.photo_line import PhotoLine
from pairing.audit.run.review import Decision
from pairing.audit.run.rows import Row
from pairing.closing import Closing
from pairing.errors import OutputRefused

FILE = "run.db"
"""The store in the run's folder, where no server keeps it."""

_PATIENCE_MS = 5000
"""A run that was killed just now still has its lock until the server notices."""
_MANY = 200
"""Lines, rows or pieces that are in memory at once."""
_LOCK = {"kind": connection.LOCK_CLASS}


Item = TypeVar("Item")


class Head(msgspec.Struct, frozen=True, kw_only=True):
    """What a run is about. photos: where they lie. unsorted: whether nothing but what was read
    tells which photos belong together."""

    photos: str
    unsorted: bool


class Crop(msgspec.Struct, frozen=True, kw_only=True):
    """Pictures of a row's label and box, JPEG; b"" where there is none. key: `crops.key_of`."""

    key: str
    label: bytes
    box: bytes


class Store(Closing):
    """A run's store, open. Use it in a `with`.

    One connection does everything, and holds the run's lock: whoever has lost it can write
    nothing more, even if nobody told them. (A pool between that hands out connections by the
    transaction does not keep such a lock.)
    """

    def __init__(self, out: Path, *, results: str = "", name: str = "") -> None:
        """out: the run's folder; made where it is not there. results: the URL of a PostgreSQL
        database that keeps the run instead; name: the run's name there. Raises OutputRefused
        where another run has the folder, EngineMissing."""
        self.out, self.is_shared, self._name = out, bool(results), name
        self._url = connection.server(results) if results else connection.file(out / FILE)
        shown = connection.for_people(self._url)
        self.where = f"{shown}, run {name}" if results else shown
        self.run: int | None = None
        self._lock = run_folder.locked(out)
        try:
            run_folder.check_place(out, self.where if results else "")
            self._db = connection.connected(self._url)
            self._bring_up()
        except BaseException:
            self.close()
            raise

    def close(self) -> None:
        """Let go of the run. What was kept is kept."""
        with suppress(Exception):  # it may be lost already, or was never opened
            self._db.close()
        self._lock.release()

    def transaction(self) -> AbstractContextManager[Connection]:
        """A transaction; the database's errors inside become OutputRefused."""
        return connection.transaction(self._db, self._url)

    def upsert(self, table: Table) -> Any:
        """The statement that adds a row to a table, or takes the place of the one with its key."""
        return tables.upsert(table, self._url.get_backend_name())

    def begin(self, head: Head) -> Head:
        """Take the run for this process, until it is closed; what it was about before. Raises
        OutputRefused where another process has it, or it is a run of another kind."""
        runs = tables.RUNS
        known = select(runs.c.run, runs.c.head).where(runs.c.name == self._name)
        with self.transaction() as db:
            found = db.execute(known).first()
        if found is None:
            adds = tables.INSERT[self._url.get_backend_name()](runs).on_conflict_do_nothing()
            with self.transaction() as db:
                db.execute(adds, {"name": self._name, "head": _json(head)})
                found = db.execute(known).one()
        before = _head(found.head)
        if self.run is None:
            self._take(found.run)
        self.run = found.run
        if before.unsorted != head.unsorted and self.count_readings():
            raise self.another("unsorted", before.unsorted, head.unsorted)
        return before

    def another(self, what: str, before: object, now: object) -> OutputRefused:
        """The error for a run that is not the one that was asked for."""
        holds = (
            "Another audit has this name" if self.is_shared else "This folder holds another audit"
        )
        option = "--run" if self.is_shared else "--out"
        return OutputRefused(
            f"{holds} ({what} was {before!r} and is {now!r} now)",
            where=self.where,
            remedy=f"Name another one with {option}, or ask for the same as before.",
        )

    def set_head(self, head: Head) -> None:
        """Note what the run is about from now on."""
        runs = tables.RUNS
        with self.transaction() as db:
            db.execute(update(runs).where(runs.c.run == self.run).values(head=_json(head)))

    def take_over_folder(self) -> None:
        """What the folder's own file kept before the run was given a server goes there, once."""
        own = self.out / FILE
        if not self.is_shared or run_folder.place_of(self.out):
            return
        if own.exists():
            url = connection.file(own)
            source = connection.connected(url)
            with source, connection.transaction(source, url) as db:
                for table in (tables.PHOTOS, tables.READINGS, tables.DECISIONS):
                    adds = tables.INSERT["postgresql"](table).on_conflict_do_nothing()
                    for block in in_blocks(db.execute(select(table)).mappings()):
                        with self.transaction() as target:
                            target.execute(adds, [{**row, "run": self.run} for row in block])
        run_folder.note_place(self.out, self.where)

    def count_readings(self) -> int:
        """How many photos' readings are kept."""
        table = tables.READINGS
        with self.transaction() as db:
            counted = select(func.count()).select_from(table).where(table.c.run == self.run)
            return int(db.execute(counted).scalar_one())

    def keep(self, lines: Iterable[PhotoLine]) -> None:
        """Keep lines; a photo's earlier one gives way. When this returns a killed process loses
        none of them."""
        for block in in_blocks(lines):
            readings = [one for one in block if one.reading is not None]
            with self.transaction() as db:
                db.execute(self.upsert(tables.PHOTOS), [self._cells(one) for one in block])
                if readings:
                    db.execute(self.upsert(tables.READINGS), [self._cells(one) for one in readings])

    def decisions(self) -> list[Decision]:
        """What people said of the rows."""
        table = tables.DECISIONS
        with self.transaction() as db:
            found = db.execute(select(table.c.decision).where(table.c.run == self.run)).scalars()
            return [msgspec.json.decode(one, type=Decision) for one in found]

    def keep_decisions(self, decisions: Iterable[Decision]) -> None:
        """Add decisions to those that are there; one on the same piece gives way."""
        for block in in_blocks(decisions):
            cells = [{"run": self.run, "piece": _storable(one.piece), "decision": _json(one)}
                     for one in block]  # fmt: skip
            with self.transaction() as db:
                db.execute(self.upsert(tables.DECISIONS), cells)

    def finish(self, rows: Iterable[Row]) -> None:
        """Put the lot's rows, all of them, in the place of those that are there: at once, and
        on the disk when this returns."""
        runs, table = tables.RUNS, tables.ROWS
        with self.transaction() as db:
            if self.is_shared:
                db.execute(text("SET LOCAL synchronous_commit = on"))
            own = runs.c.run == self.run
            done = update(runs).where(own).values(turn=runs.c.turn + 1, finished=func.now())
            db.execute(done)
            turn = db.execute(select(runs.c.turn).where(own)).scalar_one()
            statement = self.upsert(table)
            for block in in_blocks(enumerate(rows)):
                db.execute(statement, [self._row(place, row, turn) for place, row in block])
            db.execute(delete(table).where(table.c.run == self.run, table.c.turn != turn))

    def keep_crops(self, crops: Sequence[Crop]) -> None:
        """Keep pictures of rows."""
        cells = [{"run": self.run, **msgspec.structs.asdict(one)} for one in crops]
        with self.transaction() as db:
            db.execute(self.upsert(tables.CROPS), cells)

    def crop(self, key: str) -> Crop | None:
        """The pictures kept under this key."""
        table = tables.CROPS
        with self.transaction() as db:
            found = db.execute(
                select(table.c.label, table.c.box).where(
                    table.c.run == self.run, table.c.key == bindparam("key")
                ),
                {"key": key},
            ).first()
        return None if found is None else Crop(key=key, label=found.label, box=found.box)

    def _cells(self, line: PhotoLine) -> dict[str, Any]:
        return {"run": self.run, **msgspec.structs.asdict(line), "photo": _storable(line.photo)}

    def _row(self, place: int, row: Row, turn: int) -> dict[str, Any]:
        return {
            "run": self.run,
            "piece": _storable(row.piece),
            "place": place,
            "verdict": row.verdict.value,
            "article": row.article,
            "card": row.card,
            "turn": turn,
            "row": _json(row),
        }

    def _bring_up(self) -> None:
        with self.transaction() as db:
            if tables.version_of(db, self.where) == tables.VERSION:
                return
        if self.is_shared:
            # Before the transaction: a table that another machine made while it waited is not
            # seen by one that has begun.
            with self.transaction() as db:
                db.execute(text("SELECT pg_advisory_lock(:kind, 0)"), _LOCK)
        with self.transaction() as db:
            tables.bring_up(db, self.where)
        if self.is_shared:
            with self.transaction() as db:
                db.execute(text("SELECT pg_advisory_unlock(:kind, 0)"), _LOCK)

    def _take(self, run: int) -> None:
        """Hold the run's lock for as long as the connection lives. A file has its folder's."""
        if not self.is_shared:
            return
        asked = _LOCK | {"run": run}
        with self.transaction() as db:
            if db.execute(text("SELECT pg_try_advisory_lock(:kind, :run)"), asked).scalar_one():
                return
        try:
            with self.transaction() as db:
                db.execute(text(f"SET LOCAL lock_timeout = {_PATIENCE_MS}"))
                db.execute(text("SELECT pg_advisory_lock(:kind, :run)"), asked)
        except OutputRefused as error:
            if getattr(getattr(error.__cause__, "orig", None), "sqlstate", "") != "55P03":
                raise  # 55P03: lock_not_available
            raise OutputRefused(
                "Another run of this lot is at work",
                where=self.where,
                remedy="Wait for it to end, or name another run with --run.",
            ) from error


def in_blocks(items: Iterable[Item], many: int = _MANY) -> Iterator[list[Item]]:
    """The items, `many` at a time."""
    source = iter(items)
    while block := list(islice(source, many)):
        yield block


def _head(kept: str | bytes) -> Head:
    """What a run was about; one of an earlier version says the same and more."""
    return msgspec.json.decode(kept, type=Head)


def _json(value: msgspec.Struct) -> str:
    return msgspec.json.encode(value).decode()


def _storable(text_: str) -> str:
    """PostgreSQL keeps no NUL in a text."""
    return text_.replace("\0", "\\x00")

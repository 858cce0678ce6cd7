"""A whole lot of photos, start to end: read what is not read yet, put the photos together to
pieces, judge each, write the rows."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import msgspec

from pairing.audit.run import unsorted
from pairing.audit.run.job import Engine, Job, Progress, Result, check_apart, check_listed, head_of
from pairing.audit.run.judging import Context, judged, task_of
from pairing.audit.run.listing import Listing
from pairing.audit.run.lot_pieces import (
    NewPiece,
    PieceNumbers,
    numbers_of,
    piece_of_lines,
    texts_in_box,
)
from pairing.audit.run.photo_line import PhotoLine, check_reader, identified, read_line, unusable
from pairing.audit.run.review import Decisions
from pairing.audit.run.rows import Row, rows_in, write_rows
from pairing.audit.run.run_store import Head, Store
from pairing.audit.run.sources import Wanted, piece_of
from pairing.audit.run.unknown_form import given_up
from pairing.errors import CounterfoilError, PhotoUnusable, ReadersLost
from pairing.photos.barcodes.engines import load_engines
from pairing.photos.pool import Done, Pool, Task, cores

ROWS = "rows.jsonl"
_EARLIER = ("readings.jsonl", "decisions.json")
"""What an earlier version of the program left in a run's folder."""


def _quiet(_stage: str, _done: int, _all: int) -> None:
    """No progress shown."""


def _unheard(_line: PhotoLine) -> None:
    """No photo told of."""


def run(  # noqa: PLR0913 - a lot, what it is held against, and who is told
    job: Job,
    *,
    context: Context | None = None,
    engine: Engine | None = None,
    workers: int | None = None,
    progress: Progress = _quiet,
    heard: Callable[[PhotoLine], None] = _unheard,
) -> Result:
    """Audit the lot; the rows of the same lot are the same whatever stopped a run before.

    engine: where photos are read; this machine's `workers` (all its processors) by default.
    heard: is told of each photo that is read now, before progress is.
    Raises PhotoUnusable (no such folder), OutputRefused, TableUnusable, LedgerUnusable.
    """
    check_apart(job.source, job.out)
    pool: Pool[Any, Any] = Pool(workers or cores(), **job.source.reading)
    with _opened(job) as store:
        before = store.begin(head_of(job))
        store.take_over_folder()
        listing = Listing(store)
        try:
            return _Run(
                job=job,
                store=store,
                listing=listing,
                context=context or Context(),
                reads=engine or pool.run,
                judges=pool.run,
                progress=progress,
                heard=heard,
            ).whole(before)
        finally:
            listing.close()


@contextmanager
def _opened(job: Job) -> Iterator[Store]:
    if job.store is not None:
        yield job.store
        return
    with Store(job.out) as store:
        yield store


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """One pass over a lot, with what it works with."""

    job: Job
    store: Store
    listing: Listing
    context: Context
    reads: Engine
    judges: Engine
    progress: Progress
    heard: Callable[[PhotoLine], None]

    def whole(self, before: Head) -> Result:
        """Start to end. before: what the run was about until now."""
        self._list()
        self._identify()
        photos, done = self.listing.count()
        self._check_same_lot(before, done)
        notes = self._earlier_version()
        read_now = self._read(photos, done)
        self._group()
        self._note_numbers()
        bad = self._judge()
        return Result(
            rows=self.job.out / ROWS,
            photos=photos,
            read_now=read_now,
            unusable=bad,
            read_otherwise=self.listing.count_by_other_readers(),
            notes=(*notes, *load_engines().missing),
        )

    def _list(self) -> None:
        """What is wanted, and of listed pieces, which photos belong to each."""
        source, listed = self.job.source, self.job.listed
        if listed is None:
            found = source.photos()
            if self.job.is_unsorted:
                found = (msgspec.structs.replace(one, shows="") for one in found)
            self.listing.want(found)
            return
        check_listed(listed)
        self.listing.want(
            msgspec.structs.replace(
                source.wanted(photo.path.as_posix()),
                shows=photo.shows.value if photo.shows else "",
            )
            for piece in listed
            for photo in piece.photos
        )

    def _identify(self) -> None:
        """Photos that were read under another name, or before they were touched, by their
        digests."""
        if self.store.count_readings() == 0:
            return
        tasks: list[Task[frozenset[str], PhotoLine]] = [
            (digests, partial(identified, self.job.source, one), Path(one.photo))
            for one, digests in self.listing.renamed()
        ]
        if not tasks:
            return
        for digests, line in self.judges(tasks):
            if isinstance(line, PhotoLine) and line.sha256 in digests:
                self.store.keep([line])

    def _check_same_lot(self, before: Head, done: int) -> None:
        """Raise OutputRefused for another lot than the one that was read here before: its rows
        would be lost. A lot that was moved holds photos that are known; and a call that named a
        wrong folder, so that nothing was read, leaves nothing to lose."""
        now = head_of(self.job)
        if before == now:
            return
        if not done and self.store.count_readings():
            raise self.store.another("photos", before.photos, now.photos)
        self.store.set_head(now)

    def _earlier_version(self) -> Iterator[str]:
        """What an earlier version left in the folder: readings are not used, what people said
        is taken over."""
        readings, decisions = (self.job.out / name for name in _EARLIER)
        found = []
        if readings.exists():
            found.append(
                f"{readings} was written by an earlier version of Counterfoil and is not used: "
                "the photos are read again. It may be deleted."
            )
        if decisions.exists():
            kept = Decisions.of(self.store.decisions())
            kept.merge(Decisions.read(decisions))
            self.store.keep_decisions(kept.by_piece.values())
        return iter(found)

    def _read(self, photos: int, done: int) -> int:
        """Read the photos that have no line yet, and keep their lines as they come; how many."""
        if self.job.rereads and self.store.count_readings():
            self.store.keep(given_up(self.listing.lines()))
        pending = self.listing.pending(with_other_readers=self.job.rereads)
        tasks = (
            (one, partial(read_line, self.job.source, one), Path(one.photo)) for one in pending
        )
        read = 0
        try:
            for line in _lines(self.reads(tasks)):
                check_reader(line)
                self.store.keep([line])
                self.heard(line)
                read += 1
                self.progress("photos read", min(photos, done + read), photos)
        except ReadersLost as error:
            raise ReadersLost(
                f"{error.what}; {min(photos, done + read):,} of {photos:,} photos are read, and "
                f"kept in {self.store.where}",
                where=error.where,
                remedy=error.remedy,
            ) from error
        return read

    def _group(self) -> None:
        """Make pieces of the photos."""
        listed = self.job.listed
        if listed is not None:
            self.listing.add_pieces(
                NewPiece(
                    name=piece.name,
                    photos=tuple(photo.path.as_posix() for photo in piece.photos),
                    is_declared=True,
                )
                for piece in listed
            )
        elif self.job.is_unsorted:
            unsorted.sort_out(self.listing, self.context.records.partner, self.context.strictness)
        else:
            self.listing.add_pieces(self._named_pieces())

    def _named_pieces(self) -> Iterator[NewPiece]:
        for photo in self.listing.photos():
            name, is_declared = piece_of(photo)
            yield NewPiece(name=name, photos=(photo,), is_declared=is_declared)

    def _note_numbers(self) -> None:
        """What was read on each piece by itself, so that others can be held against it."""

        def found() -> Iterator[PieceNumbers]:
            for piece in self.listing.pieces():
                read = piece_of_lines(piece.name, piece.lines, is_declared=piece.is_declared)
                article, card = numbers_of(read)
                yield PieceNumbers(
                    place=piece.place, article=article, card=card, boxes=texts_in_box(read)
                )

        self.listing.set_numbers(found())

    def _judge(self) -> int:
        """Write the rows, in the order of the pieces; the number of photos of no use."""
        target, bad = self.job.out / ROWS, 0
        decisions = self._decisions()
        pieces = self.listing.count_pieces()

        def rows() -> Iterator[Row]:
            nonlocal bad
            for done, row in enumerate(_in_order(self.judges(self._tasks(decisions))), 1):
                bad += sum(photo.skipped is not None for photo in row.photos)
                yield msgspec.structs.replace(row, review=decisions.about(row))
                self.progress("pieces judged", done, pieces)

        write_rows(rows(), target)
        self.store.finish(rows_in(target))
        return bad

    def _decisions(self) -> Decisions:
        """What people said of the rows, the newest kept."""
        decisions = Decisions.of(self.store.decisions())
        if self.job.decisions is not None:
            decisions.merge(self.job.decisions)
            self.store.keep_decisions(decisions.by_piece.values())
        return decisions

    def _tasks(self, decisions: Decisions) -> Iterator[Task[int, Row]]:
        for number, piece in enumerate(self.listing.pieces()):
            task = task_of(piece, self.context.of(piece, self.listing), decisions)
            yield number, partial(judged, task), Path(piece.name)


def _lines(found: Iterable[Done[Wanted, PhotoLine]]) -> Iterator[PhotoLine]:
    for wanted, line in found:
        if isinstance(line, PhotoUnusable):
            yield unusable(wanted, line)
        elif isinstance(line, CounterfoilError):
            raise line
        else:
            yield line


def _in_order(found: Iterator[Done[int, Row]]) -> Iterator[Row]:
    """Results that come in any order, by their numbers."""
    early: dict[int, Row] = {}
    due = 0
    for number, row in found:
        if isinstance(row, CounterfoilError):
            raise row
        early[number] = row
        while due in early:
            yield early.pop(due)
            due += 1

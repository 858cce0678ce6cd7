"""A whole lot of photos, start to end: read what is not read yet, put the photos together to
pieces, judge each, write the rows."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from pairing.audit.run import bag, review, sharing
from pairing.audit.run.index import Index, Member, Wanted
from pairing.audit.run.journal import FolderLock, Journal
from pairing.audit.run.judging import Context, row_text, task_of
from pairing.audit.run.results import Results
from pairing.audit.run.rows import numbers_of, piece_of_lines, texts_in_box
from pairing.audit.run.sources import Source, piece_of
from pairing.audit.run.taking import check_reader, reading_with, take, unusable
from pairing.errors import CounterfoilError, OutputRefused, PhotoUnusable, TableUnusable
from pairing.model import Side
from pairing.photos.barcodes.engines import load_engines
from pairing.photos.pool import Done, Pool, Task, cores
from pairing.pieces.photo_groups import PhotoPiece

READINGS, ROWS = "readings.jsonl", "rows.jsonl"
_HEAD = "counterfoil readings 1"

Progress = Callable[[str, int, int], None]
"""What is being done ("photos read", "pieces judged"), how many are done, of how many."""
Engine = Callable[[Iterable[Task[Any, str]]], Iterator[Done[Any, str]]]
"""Works tasks off, in any order: `Pool.run`, or the cluster's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What is to be audited.

    listed: pieces by a list, with paths below the source; None goes by the photos' names.
    is_bag: nothing but what was read tells which photos belong together.
    results: where everything is kept besides `out`, for other machines to go on with.
    """

    source: Source
    out: Path
    listed: tuple[PhotoPiece, ...] | None = None
    is_bag: bool = False
    results: Results | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """Where the rows are, and how many photos were there, read now, and of no use. missing:
    one sentence for each decoder that this machine lacks."""

    rows: Path
    photos: int
    read_now: int
    unusable: int
    missing: tuple[str, ...] = ()


def _quiet(_stage: str, _done: int, _all: int) -> None:
    """No progress shown."""


def run(
    job: Job,
    *,
    context: Context | None = None,
    engine: Engine | None = None,
    workers: int | None = None,
    progress: Progress = _quiet,
) -> Result:
    """Audit the lot; the rows of the same lot are the same whatever stopped a run before.

    engine: where photos are read; this machine's `workers` (all its processors) by default.
    Raises PhotoUnusable (no such folder), OutputRefused, TableUnusable, LedgerUnusable.
    """
    pool: Pool[Any, str] = Pool(workers or cores())
    if not job.source.is_remote and job.out.absolute().is_relative_to(job.source.root):
        raise OutputRefused(
            "The results would lie among the photos",
            where=os.fspath(job.out),
            remedy="Name a folder outside the one that is audited.",
        )
    with FolderLock(job.out):
        index = Index(job.out / ".index")
        try:
            head = head_of(job)
            with Journal(job.out / READINGS, head) as journal:
                _index_lines(journal, index)
                if job.results is not None:
                    job.results.begin(head)
                    sharing.lines(journal, index, job.results)
                _list(job, index)
                photos, done = index.count()
                found = _new_lines(job, index, engine or pool.run)
                _keep(found, job, journal, index, (photos, done), progress)
                context = context or Context()
                _group(job, journal, index, context)
                bad = _judge(job, journal, index, context, pool.run, progress)
        finally:
            index.close()
    return Result(
        rows=job.out / ROWS,
        photos=photos,
        read_now=photos - done,
        unusable=bad,
        missing=tuple(load_engines().missing),
    )


def head_of(job: Job) -> dict[str, Any]:
    """What readings depend on: other photos, another program or another network read anew."""
    return {
        "format": _HEAD,
        "photos": job.source.shown,
        "unsorted": job.is_bag,
        **reading_with(),
    }


def _index_lines(journal: Journal, index: Index) -> None:
    for line in journal.lines():
        if "photo" in line.members:
            index.note_line(line.members, (line.offset, line.size))


def _list(job: Job, index: Index) -> None:
    """What is wanted, and in a lot that is not a bag, which piece each photo belongs to."""
    if job.listed is not None:
        _check_listed(job.listed)
        for piece in job.listed:
            names = [(photo.path.as_posix(), photo.shows) for photo in piece.photos]
            shown = [(name, shows.value if shows else "") for name, shows in names]
            index.want(replace(job.source.wanted(name), shows=shows) for name, shows in shown)
            index.add_piece(piece.name, shown, is_declared=True)
        return
    for one in job.source.photos():
        shows = "" if job.is_bag else one.shows
        index.want((Wanted(photo=one.photo, size=one.size, stamp=one.stamp, shows=shows),))


def _new_lines(job: Job, index: Index, engine: Engine) -> Iterator[str]:
    """The lines of photos that have none yet, as they come."""
    tasks = ((one, partial(take, job.source, one), Path(one.photo)) for one in index.pending())
    for wanted, text in engine(tasks):
        if isinstance(text, PhotoUnusable):
            yield unusable(wanted, text)
        elif isinstance(text, CounterfoilError):
            raise text
        else:
            yield text


def _keep(  # noqa: PLR0913, PLR0917 - one step of `run`, with what it holds
    found: Iterable[str],
    job: Job,
    journal: Journal,
    index: Index,
    counts: tuple[int, int],
    progress: Progress,
) -> None:
    photos, done = counts
    for text in found:
        members = json.loads(text)
        check_reader(members)
        if job.results is not None:
            job.results.keep((text,))
        line = journal.append(text)
        index.note_line(members, (line.offset, line.size))
        done += 1
        progress("photos read", done, photos)


def _group(job: Job, journal: Journal, index: Index, context: Context) -> None:
    if job.listed is not None:
        return
    if job.is_bag:
        bag.sort_out(journal, index, context.records.partner)
        return
    # Named by the photos alone; the list is taken whole before pieces are made of it.
    for member in index.wanted():
        name, is_declared = piece_of(member.photo)
        index.add_piece(name, [(member.photo, member.shows)], is_declared=is_declared)


def _judge(  # noqa: PLR0913, PLR0917 - one step of `run`, with what it holds
    job: Job,
    journal: Journal,
    index: Index,
    context: Context,
    engine: Engine,
    progress: Progress,
) -> int:
    """Write the rows, in the order of the pieces; the number of photos of no use."""
    pieces = 0
    for piece in index.pieces():
        read = piece_of_lines(piece.name, _lines(journal, index.members(piece.place)),
                              is_declared=piece.is_declared)  # fmt: skip
        index.set_numbers(piece.place, *numbers_of(read), texts_in_box(read))
        pieces += 1
    results = job.results
    decisions = sharing.decisions(job.out, results) if results else review.Decisions.of(job.out)
    target = job.out / ROWS
    draft = target.with_name(ROWS + ".part")
    bad = 0
    try:
        with draft.open("w", encoding="utf-8") as file:
            tasks = _judging_tasks(journal, index, context)
            for done, text in enumerate(_in_order(engine(tasks)), 1):
                row = json.loads(text)
                bad += sum(photo["skipped"] is not None for photo in row["photos"])
                row["review"] = decisions.about(row)
                file.write(json.dumps(row, separators=(",", ":")) + "\n")
                progress("pieces judged", done, pieces)
            file.flush()
            os.fsync(file.fileno())
        draft.replace(target)
    except OSError as error:
        raise OutputRefused(
            f"The rows cannot be written ({error.strerror or error})",
            where=os.fspath(target),
            remedy="Make room, and run the same command again: what was read is kept.",
        ) from error
    if results is not None:
        results.finish(rows(target), decisions.by_piece.values())
    return bad


def _check_listed(listed: Iterable[PhotoPiece]) -> None:
    """Raise TableUnusable where two pieces have the same photo, and see different sides on it."""
    known: dict[Path, tuple[str, Side | None]] = {}
    for piece in listed:
        for photo in piece.photos:
            other, shows = known.setdefault(photo.path, (piece.name, photo.shows))
            if shows is not photo.shows:
                raise TableUnusable(
                    f"Pieces {other!r} and {piece.name!r} have the same photo, and it is said to "
                    "show different sides",
                    where=photo.path,
                    remedy="Say once what it shows.",
                )


def _judging_tasks(journal: Journal, index: Index, context: Context) -> Iterator[Task[int, str]]:
    for number, piece in enumerate(index.pieces()):
        lines = _lines(journal, index.members(piece.place))
        task = task_of(piece, lines, context.around(piece, index))
        yield number, partial(row_text, task), Path(piece.name)


def _lines(journal: Journal, members: Iterable[Member]) -> list[dict[str, Any]]:
    return [journal.at(one.at, one.bytes) for one in members if one.at is not None and one.bytes]


def _in_order(found: Iterator[Done[int, str]]) -> Iterator[str]:
    """Results that come in any order, by their numbers."""
    early: dict[int, str] = {}
    due = 0
    for number, text in found:
        if isinstance(text, CounterfoilError):
            raise text
        early[number] = text
        while due in early:
            yield early.pop(due)
            due += 1


def rows(path: Path) -> Iterator[dict[str, Any]]:
    """The rows of a file, streamed. Raises OutputRefused where there is none."""
    try:
        with path.open(encoding="utf-8") as file:
            yield from map(json.loads, file)
    except (OSError, ValueError) as error:
        raise OutputRefused(
            f"There are no rows there ({error})",
            where=os.fspath(path),
            remedy="Run `counterfoil audit` on the photos first.",
        ) from error

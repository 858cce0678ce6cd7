"""Work on many things at once on this machine, each worker a process that may die."""

from __future__ import annotations

import os
import queue
import threading
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from pathlib import Path
from typing import Generic, TypeVar

from pairing.errors import CounterfoilError
from pairing.photos.worker import PhotoWorker

Key = TypeVar("Key")
Result = TypeVar("Result")
Task = tuple[Key, Callable[[Path], Result], Path]
"""What it is, the work (picklable), and the path that it is given and that names it."""
Done = tuple[Key, Result | CounterfoilError]

_AHEAD = 3
"""Tasks for each worker that are taken before one is done."""


def cores() -> int:
    """The processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


class Pool(Generic[Key, Result]):
    """`workers` child processes, each kept by a thread that waits for it."""

    def __init__(self, workers: int, *, is_confined: bool = False) -> None:
        """is_confined: as for `PhotoWorker`; work may fetch its photo from an address, so whoever
        makes it says whether it is confined."""
        self._workers = workers
        self._make = partial(PhotoWorker, is_confined=is_confined)

    def run(self, tasks: Iterable[Task[Key, Result]]) -> Iterator[Done[Key, Result]]:
        """The results as they come, in any order; an error in place of a result where the
        work could not be done. `tasks` is asked for no more than is soon worked on."""
        todo: queue.SimpleQueue[Task[Key, Result] | None] = queue.SimpleQueue()
        done: queue.SimpleQueue[Done[Key, Result]] = queue.SimpleQueue()
        over = threading.Event()
        threads = [
            threading.Thread(target=_serve, args=(self._make, todo, done, over), daemon=True)
            for _ in range(self._workers)
        ]
        for thread in threads:
            thread.start()
        try:
            out = 0
            for task in tasks:
                todo.put(task)
                out += 1
                if out >= _AHEAD * self._workers:
                    yield done.get()
                    out -= 1
            for _ in range(out):
                yield done.get()
        finally:
            over.set()
            for _ in threads:
                todo.put(None)
            for thread in threads:
                thread.join(timeout=10)


def _serve(
    make: Callable[[], PhotoWorker],
    todo: queue.SimpleQueue[Task[Key, Result] | None],
    done: queue.SimpleQueue[Done[Key, Result]],
    over: threading.Event,
) -> None:
    """A thread's life: one child, task after task."""
    with make() as worker:
        while (task := todo.get()) is not None and not over.is_set():
            key, work, path = task
            try:
                done.put((key, worker.read(work, path)))
            except CounterfoilError as error:
                done.put((key, error))
            except Exception as error:  # the thread must live, or the run would wait for ever
                done.put((key, _failure(error, path)))


def _failure(error: Exception, path: Path) -> CounterfoilError:
    return CounterfoilError(
        f"A worker failed ({type(error).__name__}: {error})",
        where=str(path),
        remedy="Run the command again; what is done is kept.",
    )

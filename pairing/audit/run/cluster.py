"""The same work on the workers of a Dask cluster.

Each thread of a worker reads photos in a process of its own, as one machine does, so that a
photo that crashes a decoder does not take the worker with it, and confined as there. Workers must
be allowed to have such processes: a nanny's may not, unless DASK_DISTRIBUTED__WORKER__DAEMON=False
is in its environment.
What a nanny and a memory limit watch over does not happen in a worker, so `dask worker --no-nanny
--memory-limit 0` is the better choice.

What a cluster costs beside the reading (two workers, 60 photos in some 20 s): 3.9 s of CPU with
nannies and Dask's profiler, which looks at every thread 100 times a second; 1.0 s without both and
with DASK_DISTRIBUTED__ADMIN__TICK__INTERVAL=1s: it is 20 ms by default, which costs a process
without any work 2 to 3 % of a core. `python -m tests.benchmarks.audit speed` starts them so.
"""

from __future__ import annotations

import importlib
import multiprocessing
import pickle
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

from pairing.closing import Closing
from pairing.errors import CounterfoilError, EngineMissing, PhotoUnusable, ReadersLost
from pairing.photos.confinement import trouble
from pairing.photos.handed import ToOpen, wanted_by
from pairing.photos.pool import Done, Task
from pairing.photos.worker import PhotoWorker

_AHEAD = 4
"""Tasks for each of the cluster's threads that are sent before one is done."""
_FEWEST_OUT = 16
_COUNTED_EVERY_S = 5.0
"""The cluster's threads; asking takes the scheduler a few milliseconds."""

_mine = threading.local()
"""Each thread of a worker keeps a reading process."""


class Cluster(Closing):
    """A connection to a scheduler. Use it in a `with`."""

    def __init__(
        self,
        address: str,
        *,
        patience_s: float = 20.0,
        is_confined: bool = False,
    ) -> None:
        """patience_s: how long to wait for an answer. is_confined: as for `Pool`. Raises
        EngineMissing without Dask, CounterfoilError where nobody answers."""
        self._is_confined = is_confined
        self._threads, self._count_at_s = 0, 0.0
        try:
            self._dask: Any = importlib.import_module("distributed")
        except ImportError as error:
            raise EngineMissing(
                "A cluster needs the package distributed",
                where=address,
                remedy="Run pip install '.[cluster]' in Counterfoil's folder, here and on "
                "every worker.",
            ) from error
        try:
            self._client: Any = self._dask.Client(address, timeout=patience_s, set_as_default=False)
        except Exception as error:  # whatever a connection can run into
            raise CounterfoilError(
                f"The cluster's scheduler does not answer ({type(error).__name__})",
                where=address,
                remedy="Start it with `dask scheduler`, and give its tcp:// address.",
            ) from error

    def close(self) -> None:
        """As `Closing.close`."""
        self._client.close()

    def run(self, tasks: Iterable[Task[Any, Any]]) -> Iterator[Done[Any, Any]]:
        """As `Pool.run`: results as they come. What a lost worker had in hand is done by
        another; a photo over which workers die again and again is unusable."""
        waiting = iter(tasks)
        keys: dict[str, tuple[Any, Path]] = {}
        out = self._dask.as_completed(loop=self._client.loop, with_results=True, raise_errors=False)

        def send(many: int) -> None:
            for key, work, path in _next(waiting, many):
                # Packed: scheduler and worker pass it on, and need not load what reads photos.
                packed = pickle.dumps(work)
                files = wanted_by(work, path) if self._is_confined else None
                future = self._client.submit(done_there, packed, path, files, pure=False, retries=0)
                keys[future.key] = (key, path)
                out.add(future)

        try:
            send(self._room())
            for future, result in out:
                key, path = keys.pop(future.key)
                answer = result if future.status == "finished" else _failed(future, path)
                del result
                future.release()
                send(self._room() - len(keys))
                yield key, answer
        except CounterfoilError:
            raise
        except Exception as error:  # whatever a connection can run into
            raise _lost(error) from error

    def troubles(self) -> tuple[str, ...]:
        """Why readers are not confined on the workers that are there now, each reason once."""
        try:
            said = self._client.run(trouble)
        except Exception:  # an earlier version there; it is told of when it reads
            return ()
        return tuple(sorted({one for one in said.values() if one}))

    def _room(self) -> int:
        """How many tasks may be out. Workers come and go while a lot is read."""
        now_s = time.monotonic()
        if now_s >= self._count_at_s:
            self._threads = sum(self._client.nthreads().values())
            self._count_at_s = now_s + _COUNTED_EVERY_S
        return max(_FEWEST_OUT, _AHEAD * self._threads)


def done_there(
    packed: bytes, path: Path, files: tuple[ToOpen, ...] | None = None
) -> str | CounterfoilError:
    """On a worker: the (pickled) work in a process of its own. files: what it opens; None for one
    that is not confined, since it has to fetch the photo from an address. Errors of this program
    come back as values: they are answers, and are not tried again."""
    if multiprocessing.current_process().daemon:
        return CounterfoilError(
            "The cluster's workers may not start processes of their own",
            where=str(path),
            remedy="Start them with --no-nanny, or with DASK_DISTRIBUTED__WORKER__DAEMON=False in "
            "the environment.",
        )
    worker = _reader(is_confined=files is not None)
    try:
        return worker.read(partial(_unpacked, packed), path, files)
    except CounterfoilError as error:
        return error


def _reader(*, is_confined: bool) -> PhotoWorker:
    """This thread's reading process; another one where the last lot came from an address, or this
    one does."""
    kept: tuple[bool, PhotoWorker] | None = getattr(_mine, "kept", None)
    if kept is not None and kept[0] == is_confined:
        return kept[1]
    if kept is not None:
        kept[1].close()
    worker = PhotoWorker(is_confined=is_confined)
    _mine.kept = (is_confined, worker)
    return worker


def _unpacked(packed: bytes, path: Path) -> str:
    """In the worker's reading process."""
    work: Callable[[Path], str] = pickle.loads(packed)
    return work(path)


def _next(tasks: Iterator[Task[Any, Any]], many: int) -> Iterator[Task[Any, Any]]:
    for _, task in zip(range(many), tasks, strict=False):
        yield task


def _failed(future: Any, path: Path) -> CounterfoilError:
    """Why there is no answer."""
    if future.status != "error":  # given up with the connection
        return _lost(future.status)
    error = future.exception()
    if type(error).__name__ == "KilledWorker":
        return PhotoUnusable(
            "Workers of the cluster died again and again over this photo",
            where=str(path),
            remedy="Read it on one machine, or take it again.",
        )
    return CounterfoilError(
        f"A worker of the cluster failed ({type(error).__name__}: {error})",
        where=str(path),
        remedy="Install the same version of Counterfoil on every worker, and run it again.",
    )


def _lost(why: object) -> ReadersLost:
    return ReadersLost(
        "The cluster's scheduler was lost",
        where=str(why),
        remedy="Start it again, and run the same command again: what was read is kept.",
    )

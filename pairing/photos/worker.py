"""Reading one photo in a process of its own, so that one bad photo costs one photo.

Image codecs and decoders are native code: a damaged file can abort the process or
ask for all memory. The work is done in a child that may use a bounded amount of
memory, and may do no more than read the photos that it is handed (`handed`, `confinement`); when
it dies, the photo is unusable and the next one gets a fresh child. The child ends with its parent,
however that ends, and by itself where one photo takes too long.

Tried with pebble 5.2.3 (2026-11-27, before confinement): 256 lines instead of 296, and the tests
of this module passed. Not taken: forty lines are not enough for one more dependency.
"""

from __future__ import annotations

import multiprocessing
import os
import pickle
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from multiprocessing import resource_tracker
from multiprocessing.connection import Connection
from pathlib import Path
from threading import Lock
from typing import Any, TypeVar

import cv2

from pairing.closing import Closing
from pairing.errors import CounterfoilError, PhotoUnusable
from pairing.photos import child_limits, handed
from pairing.photos.confinement import confine, trouble

Result = TypeVar("Result")

MEMORY_CEILING_BYTES = 420_000_000
"""Most address space that the child may add to what it starts with, of which 0.17 GB are in
use, so that it never holds 0.6 GB. Measured (`tests.fuzz.hostile_photos`): reading adds 0.06 GB
for a JPEG of 50 MP, 0.25 for a progressive one of 80 MP, 0.23 for a PNG or TIFF of 50 MP; a PNG of
80 MP or a WebP of 50 MP is refused."""

TIMEOUT_S = 120.0
"""Longest wait for one photo. Measured: the hardest photos take a few seconds."""
_START_S = 120.0
"""Longest wait for a child to start, which is not the photo's time: a second where nothing else
runs, and most of it goes to the loading of libraries."""

_SHORT = "short of memory"
_CV2_NO_MEMORY = -4
"""`cv::Error::StsNoMem`."""

_THREAD_COUNTS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
"""What numpy's and scipy's linear algebra take their number of threads from (OpenBLAS user
manual, "Setting the number of threads"; OpenMP; Intel MKL)."""
_ENVIRONMENT = Lock()
"""Several threads may start a child each."""

_REMEDY = "Open the photo in another program, save it again, or take it again."


class PhotoWorker(Closing):
    """A child process that works on photos one after the other.

    Use it as a context manager. `read` takes a picklable function of a path; what the
    function returns must be picklable too.
    """

    def __init__(
        self,
        *,
        memory_ceiling_bytes: int = MEMORY_CEILING_BYTES,
        timeout_s: float = TIMEOUT_S,
        is_confined: bool = True,
    ) -> None:
        """is_confined: whether the child may open nothing, and is handed the photos of its work
        (`handed.opens`); False for work that must fetch its photo itself, or write."""
        self._is_confined = is_confined and not trouble()
        self._ceiling = memory_ceiling_bytes
        self._timeout_s = timeout_s
        # Not fork: a child must not inherit the threads' locks of OpenCV or its parent.
        self._context = multiprocessing.get_context("spawn")
        self._process: multiprocessing.process.BaseProcess | None = None
        self._pipe: Connection | None = None

    def read(
        self,
        work: Callable[[Path], Result],
        path: Path,
        files: tuple[handed.ToOpen, ...] | None = None,
    ) -> Result:
        """`work(path)`, done in the child. files: what it opens, where `work` does not say so.

        Raises what `work` raises of `errors.CounterfoilError`, and `PhotoUnusable`
        where it raised anything else, died, ran out of memory or out of time. A child that has
        worked before has less memory left than a new one, which then tries again.
        """
        is_new = self._process is None or not self._process.is_alive()
        answer = self._answer(work, path, files)
        if answer[0] == _SHORT and not is_new:
            self._end()
            answer = self._answer(work, path, files)
        result: Result = _unpacked(answer, path)
        return result

    def _answer(
        self,
        work: Callable[[Path], Result],
        path: Path,
        files: tuple[handed.ToOpen, ...] | None,
    ) -> tuple[str, Any]:
        try:
            pipe, pid = self._started()
            pipe.send((work, path))
            if self._is_confined:
                wanted = handed.wanted_by(work, path) if files is None else files
                handed.hand_over(pipe, pid, wanted)
            if not pipe.poll(self._timeout_s):
                self._end()
                raise PhotoUnusable(
                    f"Reading a photo took longer than {self._timeout_s:.0f} s",
                    where=str(path),
                    remedy=_REMEDY,
                )
            answer: tuple[str, Any] = pipe.recv()
        except (EOFError, BrokenPipeError, ConnectionResetError) as error:
            raise PhotoUnusable(
                f"Reading a photo ended its process ({self._cause_of_death()})",
                where=str(path),
                remedy=_REMEDY,
            ) from error
        return answer

    def close(self) -> None:
        """End the child; the next `read` starts another one."""
        if self._pipe is not None:
            with suppress(OSError):
                self._pipe.send(None)
        if self._process is not None:
            self._process.join(timeout=5)
        self._end()

    def _started(self) -> tuple[Connection, int]:
        """The child's pipe and id."""
        if self._pipe is not None and self._process is not None and self._process.is_alive():
            return self._pipe, self._process.pid or 0
        self._end()
        ours, theirs = self._context.Pipe()
        self._process = self._context.Process(
            target=_serve,
            args=(theirs, self._ceiling, self._timeout_s, self._is_confined),
            daemon=True,
        )
        with _one_thread(), _without_interrupts():
            self._process.start()
        theirs.close()
        self._pipe = ours
        if not ours.poll(_START_S):
            self._end()
            raise EOFError
        ours.recv()  # it is ready
        return ours, self._process.pid or 0

    def _cause_of_death(self) -> str:
        process = self._process
        if process is None:
            return "unknown cause"
        process.join(timeout=5)
        code = process.exitcode
        self._end()
        if code is not None and code < 0:
            try:
                return signal.Signals(-code).name
            except ValueError:
                return f"signal {-code}"
        return f"exit status {code}"

    def _end(self) -> None:
        if self._pipe is not None:
            self._pipe.close()
        if self._process is not None and self._process.is_alive():
            self._process.kill()
            self._process.join(timeout=5)
        self._pipe = self._process = None


def _unpacked(answer: tuple[str, Any], path: Path) -> Any:
    kind, value = answer
    if kind == "result":
        return value
    if isinstance(value, CounterfoilError):
        raise value
    raise PhotoUnusable(f"A photo cannot be read ({value})", where=str(path), remedy=_REMEDY)


@contextmanager
def _one_thread() -> Iterator[None]:
    """A process that starts now has linear algebra on one thread.

    A batch has a process for each core; further threads wait for each other in loops that
    burn the cores. Measured: a hard photo took 37 ms of CPU a megapixel with two threads, 26
    with one. The library reads these names once, when it is loaded.
    """
    with _ENVIRONMENT:
        before = {name: os.environ.get(name) for name in _THREAD_COUNTS}
        os.environ.update(dict.fromkeys(_THREAD_COUNTS, "1"))
        try:
            yield
        finally:
            for name, value in before.items():
                if value is None:
                    del os.environ[name]
                else:
                    os.environ[name] = value


@contextmanager
def _without_interrupts() -> Iterator[None]:
    """A process that starts now is not interrupted by Ctrl+C at the terminal, which every
    process of the command gets; its parent ends it. (The mask is inherited; POSIX, fork.)"""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    resource_tracker.ensure_running()  # its own start would unblock the signal
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _serve(pipe: Connection, ceiling_bytes: int, timeout_s: float, is_confined: bool) -> None:
    """The child's life: take work, answer, until told to stop."""
    child_limits.end_with_parent()
    child_limits.limit_memory(ceiling_bytes)
    # A batch has a process for each core; threads within one would only wait for each other.
    cv2.setNumThreads(1)
    if is_confined:
        confine()
    pipe.send(None)  # ready: from here on the time is the photo's
    while True:
        try:
            task = pipe.recv()
            if task is not None and is_confined:
                handed.take(pipe)
        except (EOFError, ConnectionResetError, KeyboardInterrupt):
            return
        if task is None:
            return
        work, path = task
        child_limits.limit_cpu(timeout_s)
        try:
            pipe.send(_attempt(work, path))
        except (BrokenPipeError, ConnectionResetError):
            return  # the parent was killed: nobody is left to tell
        handed.drop()


def _attempt(work: Callable[[Path], Any], path: Path) -> tuple[str, Any]:
    try:
        result = work(path)
        pickle.dumps(result)
    except CounterfoilError as error:
        return _SHORT if _is_of_memory(error) else "error", error
    except Exception as error:  # whatever the libraries raise, the batch goes on
        if _is_of_memory(error):
            return _SHORT, "it needs more memory than a photo may take"
        return "error", f"{type(error).__name__}: {error}"
    return "result", result


def _is_of_memory(error: BaseException | None) -> bool:
    """Whether it, or what it was raised from, says that there is no memory left."""
    while error is not None:
        is_cv2s = isinstance(error, cv2.error) and getattr(error, "code", 0) == _CV2_NO_MEMORY
        if isinstance(error, MemoryError) or is_cv2s:
            return True
        error = error.__cause__ or error.__context__
    return False

"""A photo that kills its reader costs that photo and no other."""

from __future__ import annotations

import ctypes
import os
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import cv2
import numpy as np
import pytest

from pairing.errors import PhotoUnusable, TableUnusable
from pairing.photos.worker import PhotoWorker

HERE = Path("some.jpg")


def pid_of(path: Path) -> int:
    del path
    return os.getpid()


def thread_counts(path: Path) -> list[str | None]:
    del path
    return [os.environ.get(name) for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS")]


def abort(path: Path) -> None:
    del path
    os.abort()


def segfault(path: Path) -> None:
    del path
    ctypes.string_at(0)


def devour(path: Path) -> int:
    del path
    return int(np.ones(3_000_000_000, dtype=np.uint8).sum())


_ROW = np.zeros((1, 16_667), np.uint8)
_LEFT_OVER: list[np.ndarray] = []


def hoard(path: Path, *, by_cv2: bool) -> int:
    """Leave 250 MB behind, as a reader's heap that lies in pieces does; the process's id."""
    try:
        if by_cv2:
            _LEFT_OVER.append(cv2.copyMakeBorder(_ROW, 0, 14_999, 0, 0, cv2.BORDER_CONSTANT))
        else:
            _LEFT_OVER.append(np.empty(250_000_000, np.uint8))
    except (cv2.error, MemoryError) as error:
        raise PhotoUnusable("It was not read", where=str(path), remedy="Try again.") from error
    return os.getpid()


def refuse(path: Path) -> None:
    raise TableUnusable("It cannot be used", where=str(path), remedy="Repair it.")


def stumble(path: Path) -> None:
    raise KeyError(str(path))


def sleep(path: Path) -> None:
    del path
    time.sleep(3_600)


def unpicklable(path: Path) -> object:
    del path
    return lambda: None


@pytest.fixture(scope="module")
def worker() -> Iterator[PhotoWorker]:
    with PhotoWorker() as one:
        yield one


def test_work_is_done_elsewhere_and_the_child_is_kept(worker: PhotoWorker) -> None:
    first = worker.read(pid_of, HERE)
    assert first != os.getpid()
    assert worker.read(pid_of, HERE) == first


@pytest.mark.parametrize(
    ("deadly", "name"), [(abort, "SIGABRT"), (segfault, "SIGSEGV")], ids=["abort", "segfault"]
)
def test_death_is_one_unusable_photo(worker: PhotoWorker, deadly: object, name: str) -> None:
    with pytest.raises(PhotoUnusable, match=name):
        worker.read(deadly, HERE)  # type: ignore[arg-type]
    assert worker.read(pid_of, HERE) > 0


def test_memory_is_bounded(worker: PhotoWorker) -> None:
    with pytest.raises(PhotoUnusable, match="memory"):
        worker.read(devour, HERE)
    assert worker.read(pid_of, HERE) > 0


@pytest.mark.parametrize("by_cv2", [False, True])
def test_what_earlier_photos_left_behind_costs_no_later_one(*, by_cv2: bool) -> None:
    """A new process reads it; one that was new says that there is too little memory."""
    with PhotoWorker() as worker:
        work = partial(hoard, by_cv2=by_cv2)
        pids = [worker.read(work, HERE) for _ in range(3)]
        assert len(set(pids)) == 3
    low = PhotoWorker(memory_ceiling_bytes=200_000_000)
    with low as worker, pytest.raises(PhotoUnusable, match="It was not read"):
        worker.read(work, HERE)


def test_our_errors_pass_and_foreign_ones_do_not(worker: PhotoWorker) -> None:
    with pytest.raises(TableUnusable, match="It cannot be used"):
        worker.read(refuse, HERE)
    with pytest.raises(PhotoUnusable, match="KeyError"):
        worker.read(stumble, HERE)
    # Python 3.13 names the object alone.
    with pytest.raises(PhotoUnusable, match=r"ickle|local object"):
        worker.read(unpicklable, HERE)


def test_a_child_does_linear_algebra_on_one_thread(
    worker: PhotoWorker, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert worker.read(thread_counts, HERE) == ["1", "1"]
    monkeypatch.setenv("OMP_NUM_THREADS", "3")
    monkeypatch.delenv("OPENBLAS_NUM_THREADS", raising=False)
    with PhotoWorker() as other:
        assert other.read(thread_counts, HERE) == ["1", "1"]
    assert thread_counts(HERE) == ["3", None]


def test_time_is_bounded() -> None:
    # A wait that never ends is given up, and how long a child takes to start is not part of it.
    # It does take the time to import this module, which names the work: seconds on a busy machine.
    with PhotoWorker(timeout_s=6.0) as impatient:
        first = impatient.read(pid_of, HERE)
        with pytest.raises(PhotoUnusable, match="longer than 6 s"):
            impatient.read(sleep, HERE)
        assert impatient.read(pid_of, HERE) != first

"""Photos that another process opened for this one: the reader of a photo may open none by itself
(`confinement`), and is handed those of its task, each under the name that its work gives it.

Where nothing was handed, a photo is opened by its path as ever.
"""

from __future__ import annotations

import errno
import io
import os
import stat
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from multiprocessing import reduction
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any, TypeVar

Work = TypeVar("Work", bound=Callable[..., Any])


@dataclass(frozen=True, slots=True)
class ToOpen:
    """A file that a task's work opens as `name`, and where it lies. below: the folder that it
    must lie in, wherever links lead; None for one that was named by a person."""

    name: str
    path: Path
    below: str | None = None


class NoRegularFile(OSError):
    """A pipe, a device, a socket: opening one may wait for ever, or do something."""


class LeadsOutside(PermissionError):
    """A link to a file that lies outside the folder that it was to lie in."""


_WANTS: dict[object, Callable[..., tuple[ToOpen, ...]]] = {}

_handed: dict[str, int | OSError] = {}
"""In a reader: descriptors, or why there is none, by name."""


def opens(wants: Callable[..., tuple[ToOpen, ...]]) -> Callable[[Work], Work]:
    """For a function that is a task's work: `wants`, given what it is given, says what it opens.
    Without it that is the path that it is given."""

    def known(work: Work) -> Work:
        _WANTS[work] = wants
        return work

    return known


def wanted_by(work: Callable[..., Any], path: Path) -> tuple[ToOpen, ...]:
    """What `work(path)` opens."""
    known, given = (work.func, work.args) if isinstance(work, partial) else (work, ())
    wants = _WANTS.get(known)
    return wants(*given, path) if wants else (ToOpen(os.fspath(path), path),)


def hand_over(pipe: Connection, pid: int, files: Iterable[ToOpen]) -> None:
    """Open the files for process `pid`, which takes them at the pipe's other end (`take`)."""
    found = [(one.name, _opened(one)) for one in files]
    try:
        pipe.send([(name, None if isinstance(one, int) else one) for name, one in found])
        for _, one in found:
            if isinstance(one, int):
                reduction.send_handle(pipe, one, pid)
    finally:
        for _, one in found:
            if isinstance(one, int):
                os.close(one)


def take(pipe: Connection) -> None:
    """Have what the parent opened for the next task, and nothing of the last one."""
    drop()
    for name, error in pipe.recv():
        _handed[name] = error or reduction.recv_handle(pipe)


def drop() -> None:
    """Close what was handed."""
    for one in _handed.values():
        if isinstance(one, int):
            os.close(one)
    _handed.clear()


def open_photo(photo: Path) -> io.BufferedReader:
    """The file's bytes. Raises OSError."""
    found = _handed.get(os.fspath(photo))
    if found is None:
        return photo.open("rb")
    if isinstance(found, OSError):
        raise found
    return io.BufferedReader(_Positioned(os.dup(found)))


def size_bytes(photo: Path) -> int:
    """The file's size. Raises OSError, and NoRegularFile before anything is opened."""
    found = _handed.get(os.fspath(photo))
    if isinstance(found, OSError):
        raise found
    about = photo.stat() if found is None else os.fstat(found)
    _refuse_special(about)
    return about.st_size


def _opened(file: ToOpen) -> int | OSError:
    try:
        _refuse_special(file.path.stat())
        opened = os.open(file.path, os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK | os.O_NOCTTY)
    except OSError as error:
        return type(error)(*error.args)
    except ValueError as error:  # no name of a file
        return OSError(errno.EINVAL, str(error))
    try:
        _refuse_special(os.fstat(opened))
        if file.below is not None:
            _refuse_outside(opened, file.below)
    except OSError as error:
        os.close(opened)
        return type(error)(*error.args)
    return opened


def _refuse_special(about: os.stat_result) -> None:
    if stat.S_ISDIR(about.st_mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
    if not stat.S_ISREG(about.st_mode):
        raise NoRegularFile(errno.EINVAL, "not a regular file")


def _refuse_outside(opened: int, folder: str) -> None:
    """What a link leads to is known for sure once it is open."""
    if not Path(f"/proc/self/fd/{opened}").readlink().is_relative_to(os.path.realpath(folder)):
        raise LeadsOutside(errno.EACCES, "a link to a file outside the folder")


class _Positioned(io.RawIOBase):
    """A file with a position of its own: copies of a descriptor share one."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor = descriptor
        self._at = 0

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def fileno(self) -> int:
        return self._descriptor

    def readinto(self, buffer: Any) -> int:
        count = os.preadv(self._descriptor, [buffer], self._at)
        self._at += count
        return count

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        base = (0, self._at, os.fstat(self._descriptor).st_size)[whence]
        if base + offset < 0:
            raise OSError(errno.EINVAL, os.strerror(errno.EINVAL))
        self._at = base + offset
        return self._at

    def tell(self) -> int:
        return self._at

    def close(self) -> None:
        if not self.closed:
            with suppress(OSError):
                os.close(self._descriptor)
        super().close()

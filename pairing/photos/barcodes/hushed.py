"""zbar's own lines, kept off standard error."""

from __future__ import annotations

import os
import sys
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import IO

_STDERR_LOCK = threading.Lock()
_ZBAR_NOISE = (b"_zbar_", b"zbar", b"decoder/")


@contextmanager
def zbar_hushed() -> Iterator[None]:
    """Keep zbar's own lines off file descriptor 2; everyone else's pass on, a bit later."""
    with _STDERR_LOCK:
        try:
            real = os.dup(2)
        except OSError:  # no standard error at all: nothing to hush
            yield
            return
        with _passing_file() as caught:
            os.dup2(caught.fileno(), 2)
            try:
                yield
            finally:
                if sys.stderr is not None:
                    sys.stderr.flush()
                os.dup2(real, 2)
                _pass_on(caught.fileno(), real)
                os.close(real)


def _passing_file() -> IO[bytes]:
    """A file that is gone when it is closed: in memory where the system has such, for a reader
    that may write to no folder."""
    if hasattr(os, "memfd_create"):
        return os.fdopen(os.memfd_create("counterfoil"), "w+b")
    return tempfile.TemporaryFile()


def _pass_on(caught: int, real: int) -> None:
    size = os.fstat(caught).st_size
    if not size:
        return
    hushing = False
    for line in os.pread(caught, size, 0).splitlines(keepends=True):
        # zbar's assertions print a "WARNING:" line and an indented one beneath it.
        hushing = any(word in line for word in _ZBAR_NOISE) or (
            hushing and line.startswith((b" ", b"\t"))
        )
        if not hushing:
            os.write(real, line)

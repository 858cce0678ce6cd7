"""The command line in a copy of this process, which can be killed at any moment.

A copy starts in milliseconds, since all is loaded already; to the kernel and to the disk it is a
process of its own, whose end is that of any other.
"""

from __future__ import annotations

import io
import os
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from typing import NoReturn

from counterfoil.main import main

_POLL_S = 0.002


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """out: what it wrote to either stream, up to its end. code: its exit code, -9 where it was
    killed. took_s: how long it lived."""

    out: str
    code: int
    took_s: float


def run(
    *words: object,
    stdin: bytes = b"",
    kill_after_s: float | None = None,
    before: Callable[[], object] = lambda: None,
) -> Life:
    """`counterfoil WORDS`, killed (SIGKILL) after so long. before: called in the copy first."""
    with tempfile.TemporaryFile() as given, tempfile.TemporaryFile() as said:
        given.write(stdin)
        given.seek(0)
        begun = time.monotonic()
        pid = os.fork()
        if pid == 0:
            be(given.fileno(), said.fileno(), partial(_called, list(map(str, words)), before))
        with suppress(OSError):
            os.setpgid(pid, pid)  # whichever of the two comes first
        code = _ended(pid, kill_after_s)
        took_s = time.monotonic() - begun
        said.seek(0)
        return Life(out=said.read().decode("utf-8", "replace"), code=code, took_s=took_s)


def be(given: int, said: int, life: Callable[[], None]) -> NoReturn:
    """What a copy does: `life`, with these descriptors as its standard streams. Nothing of this
    process's own end may run in it."""
    code = 99
    try:
        with suppress(PermissionError):  # it leads a group already
            os.setsid()
        os.dup2(given, 0)
        for stream in (1, 2):
            os.dup2(said, stream)
        sys.stdin = io.TextIOWrapper(os.fdopen(0, "rb"), encoding="utf-8")
        sys.stdout = io.TextIOWrapper(os.fdopen(1, "wb", 0), encoding="utf-8", write_through=True)
        sys.stderr = io.TextIOWrapper(os.fdopen(2, "wb", 0), encoding="utf-8", write_through=True)
        life()
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else 98
    finally:
        os._exit(code)


def _called(words: list[str], before: Callable[[], object]) -> None:
    sys.argv = ["counterfoil", *words]
    before()
    main()


def _ended(pid: int, kill_after_s: float | None) -> int:
    until = None if kill_after_s is None else time.monotonic() + kill_after_s
    while True:
        done, status = os.waitpid(pid, 0 if until is None else os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        assert until is not None
        left_s = until - time.monotonic()
        if left_s <= 0:
            os.killpg(pid, signal.SIGKILL)  # its readers of photos too
            until = None
        else:
            time.sleep(min(_POLL_S, left_s))

"""A pseudo terminal with the command line on it, and somebody who scans and types."""

from __future__ import annotations

import gc
import os
import pty
import re
import select
import signal
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import pytest

import counterfoil.commands.check
import counterfoil.terminal_keys  # noqa: F401 - so that copies of this process have it loaded
from tests.cli import fixed_clock
from tests.faults import forked

ROOT = Path(__file__).resolve().parent.parent.parent
PATIENCE_S = 60
PACE_MS = 10
"""Shorter than a person's, so that typing takes less long: each key waits for its echo."""
PROMPT = re.compile(r"(?m)^[^\n¦$]* > $")
_STYLES = re.compile(r"\x1b\[[\d;]*m")
_WIPED = "\x1b[H\x1b[2J\x1b[3J"


class Copied:
    """A copy of this process at work (`forked`): what is asked here of a `subprocess.Popen`."""

    def __init__(self, pid: int) -> None:
        self._pid = pid
        self._code: int | None = None

    def poll(self) -> int | None:
        """The exit code, if it has ended."""
        if self._code is None:
            ended, status = os.waitpid(self._pid, os.WNOHANG)
            self._code = os.waitstatus_to_exitcode(status) if ended else None
        return self._code

    def wait(self, timeout: float = PATIENCE_S) -> int:
        """The exit code, at its end."""
        end = time.monotonic() + timeout
        while (code := self.poll()) is None:
            assert time.monotonic() < end, "it did not end"
            time.sleep(0.002)
        return code

    def send_signal(self, number: int) -> None:
        """Send it a signal."""
        os.kill(self._pid, number)

    def kill(self) -> None:
        """End it at once."""
        self.send_signal(signal.SIGKILL)


class Terminal:
    """What the command shows is kept in `screen`.

    is_copied: the command runs in a copy of this process, which has all loaded already; else it
    is started as a person starts it, which takes half a second of a core.
    """

    def __init__(
        self,
        *words: str,
        ledger: str,
        start: str = "2026-11-25T09:00:00",
        is_copied: bool = True,
    ) -> None:
        try:
            self.master, slave = pty.openpty()
        except OSError:
            pytest.skip("this root has no pseudo terminals (/dev/pts)")
        environ = {
            "COLUMNS": "96",
            "TERM": "xterm",
            "TZ": "UTC",
            "LANG": "C.UTF-8",
            "COUNTERFOIL_LEDGER": ledger,
            "PYTHONIOENCODING": "utf-8",
        }
        self.process: Copied | subprocess.Popen[bytes]
        if is_copied:
            self.process = _copied(slave, environ, start, words)
        else:
            self.process = _started(slave, environ, start, words)
        os.close(slave)
        self.screen = ""
        self._lines = ""
        self._raw = b""
        self._seen = 0

    def prompt(self) -> str:
        """Read until the command asks; what it showed since the last time."""
        while not PROMPT.search(self.screen[self._seen :]):
            self._read()
        shown = self.screen[self._seen :]
        self._seen = len(self.screen)
        return shown

    def until(self, text: str) -> str:
        """Read until `text` is shown; what was shown since the last time."""
        while text not in self.screen[self._seen :]:
            self._read()
        shown = self.screen[self._seen :]
        self._seen = len(self.screen)
        return shown

    def scan(self, text: str, end: str = "\r") -> str:
        """All keys at once; what was shown up to the next prompt."""
        os.write(self.master, f"{text}{end}".encode())
        return self.prompt()

    def keys(self, text: str) -> None:
        """One key after the other, each when the one before is to be seen."""
        for place, char in enumerate(text):
            time.sleep(0.03 * (place % 4 == 3))  # no person types evenly
            before = len(self.screen)
            os.write(self.master, char.encode())
            while len(self.screen) == before:
                self._read()

    def type(self, text: str) -> str:
        """A line that a person types; what was shown up to the next prompt."""
        self._seen = len(self.screen)
        self.keys(text)
        os.write(self.master, b"\r")
        return self.prompt()

    def last(self, text: str) -> int:
        """Type the line that ends the command; the exit code."""
        self.keys(text)
        os.write(self.master, b"\r" if text else b"\x04")
        return self.end()

    def end(self) -> int:
        """Wait for the end; the exit code."""
        try:
            while True:
                ready, _, _ = select.select([self.master], [], [], PATIENCE_S)
                assert ready, f"it did not end after {self.screen[-600:]!r}"
                if not (data := os.read(self.master, 4096)):
                    break
                self._take(data)
        except OSError:
            pass  # the other end has closed
        os.close(self.master)
        return self.process.wait(PATIENCE_S)

    def _read(self) -> None:
        end = time.monotonic() + PATIENCE_S
        ready, _, _ = select.select([self.master], [], [], max(0, end - time.monotonic()))
        assert ready, f"waited in vain after {self.screen[-600:]!r}"
        try:
            self._take(os.read(self.master, 4096))
        except OSError:
            pytest.fail(f"it ended after {self.screen[-2000:]!r}")

    def _take(self, data: bytes) -> None:
        # Only the line that is not ended is read again: a day is long, and each key ends here.
        ended, end, self._raw = (self._raw + data).rpartition(b"\n")
        self._lines += _plain(ended + end)
        self.screen = self._lines + _plain(self._raw)


def _copied(slave: int, environ: dict[str, str], start: str, words: tuple[str, ...]) -> Copied:
    pid = os.fork()
    if pid == 0:
        forked.be(slave, slave, partial(_at_work, environ, start, words))
    return Copied(pid)


def _at_work(environ: dict[str, str], start: str, words: tuple[str, ...]) -> None:
    # What the tests' process still has open is closed below: collected later, its files would
    # close numbers that the command's own files have by then.
    gc.disable()
    os.closerange(3, os.sysconf("SC_OPEN_MAX"))  # the master, too: its end must be seen
    os.chdir(ROOT)
    os.environ.update(environ)
    time.tzset()
    # Whoever started the tests may ignore hang-ups, which children inherit.
    signal.signal(signal.SIGHUP, signal.SIG_DFL)
    fixed_clock.run(start, *words)


def _started(
    slave: int, environ: dict[str, str], start: str, words: tuple[str, ...]
) -> subprocess.Popen[bytes]:
    path = os.pathsep.join((str(ROOT), str(ROOT / "cli")))
    before = signal.signal(signal.SIGHUP, signal.SIG_DFL)
    try:
        return subprocess.Popen(
            [sys.executable, "-m", "tests.cli.fixed_clock", start, *words],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": path, **environ},
            start_new_session=True,
        )
    finally:
        signal.signal(signal.SIGHUP, before)


def _plain(raw: bytes) -> str:
    text = raw.decode("utf-8", "ignore").replace("\r\n", "\n")
    return _STYLES.sub("", text.replace(_WIPED, "[screen wiped]\n"))

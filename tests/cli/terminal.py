"""A pseudo terminal with the command line on it, and somebody who scans and types."""

from __future__ import annotations

import os
import pty
import re
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
PATIENCE_S = 60
PACE_MS = 10
"""Shorter than a person's, so that typing takes less long: each key waits for its echo."""
PROMPT = re.compile(r"(?m)^[^\n¦$]* > $")
_STYLES = re.compile(r"\x1b\[[\d;]*m")
_WIPED = "\x1b[H\x1b[2J\x1b[3J"


class Terminal:
    """What the command shows is kept in `screen`."""

    def __init__(self, *words: str, ledger: str, start: str = "2026-11-25T09:00:00") -> None:
        try:
            self.master, slave = pty.openpty()
        except OSError:
            pytest.skip("this root has no pseudo terminals (/dev/pts)")
        path = os.pathsep.join((str(ROOT), str(ROOT / "cli")))
        # Whoever started the tests may ignore hang-ups, which children inherit.
        before = signal.signal(signal.SIGHUP, signal.SIG_DFL)
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.cli.fixed_clock", start, *words],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            cwd=ROOT,
            env={
                **os.environ,
                "PYTHONPATH": path,
                "COLUMNS": "96",
                "TERM": "xterm",
                "TZ": "UTC",
                "LANG": "C.UTF-8",
                "COUNTERFOIL_LEDGER": ledger,
                "PYTHONIOENCODING": "utf-8",
            },
            close_fds=True,
            start_new_session=True,
        )
        signal.signal(signal.SIGHUP, before)
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


def _plain(raw: bytes) -> str:
    text = raw.decode("utf-8", "ignore").replace("\r\n", "\n")
    return _STYLES.sub("", text.replace(_WIPED, "[screen wiped]\n"))

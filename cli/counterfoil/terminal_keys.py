"""The keys of a terminal, one by one, on Linux, macOS and Windows.

prompt_toolkit knows how each system hands them over; what they mean is told in `keyboard`. Only
Linux was tried by hand and in the tests of this project; the workflow in `.github` runs the tests
on the other two.
"""

from __future__ import annotations

import asyncio
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from prompt_toolkit.input import Input, create_input
from prompt_toolkit.keys import Keys

_LEAST_WAIT_S = 0.001
"""The event loop looks at the terminal once at least, also where nobody wants to wait."""
_MOST_EMPTY = 100
"""A terminal that says so often in a row that it has keys, and has none, is gone."""
_INTERRUPT = "\x03"


class TerminalKeys:
    """Keys of standard input's terminal, which hands over each at once and shows none."""

    def __init__(self, source: Input) -> None:
        self._source = source
        self._loop = asyncio.new_event_loop()
        self._empty = 0

    def is_ready(self, timeout_s: float | None) -> bool:
        """Wait until there are keys, or no longer than that."""
        return self._loop.run_until_complete(self._has_keys(timeout_s))

    def read(self) -> bytes:
        """The keys that are there, as UTF-8; nothing where the terminal was closed. Keys that type
        no character are left out. Raises KeyboardInterrupt for Ctrl+C."""
        while True:
            text = "".join(map(_typed, self._source.read_keys()))
            if _INTERRUPT in text:
                raise KeyboardInterrupt
            self._empty = 0 if text else self._empty + 1
            if text:
                return text.encode("utf-8", "replace")
            if self._source.closed or self._empty > _MOST_EMPTY:
                return b""
            self.is_ready(None)

    def close(self) -> None:
        """The terminal is not read any more."""
        self._loop.close()

    async def _has_keys(self, timeout_s: float | None) -> bool:
        arrived = asyncio.Event()
        wait_s = None if timeout_s is None else max(timeout_s, _LEAST_WAIT_S)
        with self._source.attach(arrived.set):
            try:
                await asyncio.wait_for(arrived.wait(), wait_s)
            except TimeoutError:
                return False
        return True


def _typed(press: object) -> str:
    """The character of a key, "" where it has none: an arrow, a function key."""
    key, data = getattr(press, "key", ""), str(getattr(press, "data", ""))
    if key is Keys.BracketedPaste:
        return data
    is_named = isinstance(key, Keys)
    return "" if is_named and len(data) != 1 else data


@contextmanager
def single_keys() -> Iterator[TerminalKeys]:
    """Standard input's terminal, key by key, also between two lines; what was typed ahead is
    kept."""
    source = create_input(sys.stdin)
    keys = TerminalKeys(source)
    with source.raw_mode():
        _let_interrupts_through()
        try:
            yield keys
        finally:
            keys.close()


def _let_interrupts_through() -> None:
    """Ctrl+C ends the program also while it does something else than read keys."""
    try:
        import termios  # noqa: PLC0415 - not on Windows, whose console does so by itself
    except ImportError:
        return
    now = termios.tcgetattr(sys.stdin.fileno())
    now[3] |= termios.ISIG
    termios.tcsetattr(sys.stdin.fileno(), termios.TCSANOW, now)

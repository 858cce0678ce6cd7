"""What reaches a terminal: no control character but the program's own.

A remark, a desk's name or a file name may hold sequences that move the cursor, hide text or
answer for the person (ECMA-48). `guard` puts one filter before standard output and standard
error where they are terminals, so that no command can forget it; what goes to a file or a pipe
stays as it is. `own` is for the few places that draw: the progress bar and the wiped screen.
"""

from __future__ import annotations

import re
import sys
from typing import Any, TextIO

_KEPT = re.compile(
    "(\x1b\\[(?:[0147];?)+m"  # bold, underlined, reversed and plain again, as click writes them
    "|\r?\n"
    "|\x08 \x08)"  # a key taken back at the prompt
)


def plain(text: str) -> str:
    """`text` with every character that cannot be seen spelled out, as in `\\x1b`."""
    return "".join(
        char if char.isprintable() else char.encode("unicode_escape", "replace").decode()
        for char in text.encode("utf-8", "backslashreplace").decode()
    )


def safe(text: str) -> str:
    """`text` as it may reach a terminal: styles, ends of lines and nothing else that acts."""
    parts = _KEPT.split(text)
    return "".join(part if at % 2 else plain(part) for at, part in enumerate(parts))


def guard() -> None:
    """Put the filter before both streams where they are terminals."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is not None and stream.isatty() and not isinstance(stream, _Safe):
            setattr(sys, name, _Safe(stream))


def own(stream: TextIO) -> TextIO:
    """The stream itself, for what the program draws: nothing that came from outside."""
    return stream._stream if isinstance(stream, _Safe) else stream


class _Safe:
    """A text stream whose `write` lets only safe text through; so does its `buffer`'s."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    @property
    def buffer(self) -> _SafeBytes:
        return _SafeBytes(self)

    def write(self, text: str) -> int:
        if not isinstance(text, str):
            raise TypeError("a text stream takes text")
        self._stream.write(safe(text))
        return len(text)

    def writelines(self, lines: list[str]) -> None:
        for line in lines:
            self.write(line)


class _SafeBytes:
    """The stream's bytes, taken as UTF-8."""

    def __init__(self, stream: _Safe) -> None:
        self._text = stream

    def __getattr__(self, name: str) -> Any:
        return getattr(self._text._stream.buffer, name)

    def write(self, data: bytes) -> int:
        self._text.write(bytes(data).decode("utf-8", "backslashreplace"))
        return len(data)

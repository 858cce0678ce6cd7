"""One line from a terminal where a scanner and a person share the keyboard.

Scans are not echoed: the label's number must not stand on the screen while the box is read.
A line that begins like one of the typed words is echoed from there on, since a person has to
see what they type.
"""

from __future__ import annotations

import codecs
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import click

_ENTER = "\r\n"
_ERASE = "\x7f\b"
_END_OF_INPUT = "\x04"
_LONGEST = 4_096


def read_line(prompt: str, words: Sequence[str]) -> str | None:
    """The line typed, None at the end of input; inside `single_keys()`.

    prompt: shown first. words: what a person types, echoed from the whole word on.
    """
    click.echo(prompt, nl=False, err=True)
    line, shown = "", False
    for char in _keys():
        if char in _ENTER:
            click.echo(err=True)
            return line
        if char == _END_OF_INPUT:
            if not line:
                break
        elif char in _ERASE:
            if shown and line:
                click.echo("\b \b", nl=False, err=True)
            line = line[:-1]
            shown = shown and bool(line)
        elif len(line) < _LONGEST:
            line += char
            shown = _echo(line, char, shown=shown, words=words)
    click.echo(err=True)
    return None


def _echo(line: str, char: str, *, shown: bool, words: Sequence[str]) -> bool:
    """Show what is typed as soon as the line holds a whole word; whether it is shown."""
    if shown:
        click.echo(char if char.isprintable() else "", nl=False, err=True)
        return True
    if line.lower().strip() in words:
        click.echo(line, nl=False, err=True)
        return True
    return False


def _keys() -> Iterator[str]:
    decoder = codecs.getincrementaldecoder("utf-8")("replace")
    while byte := os.read(sys.stdin.fileno(), 1):
        yield from decoder.decode(byte)


@contextmanager
def single_keys() -> Iterator[None]:
    """The terminal hands over each key at once and shows none, also between two lines; what
    was typed ahead is kept."""
    try:
        import termios  # noqa: PLC0415 - not on every system
    except ImportError:  # pragma: no cover
        yield
        return
    fd = sys.stdin.fileno()
    before = termios.tcgetattr(fd)
    now = termios.tcgetattr(fd)
    now[3] &= ~(termios.ICANON | termios.ECHO)
    termios.tcsetattr(fd, termios.TCSANOW, now)
    try:
        yield
    finally:
        termios.tcsetattr(fd, termios.TCSANOW, before)

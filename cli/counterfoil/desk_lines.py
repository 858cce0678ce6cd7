"""The lines of a desk's session, from the terminal or through a pipe, and what is said of them.

`counter`, `check` and `returned` read their lines here, so that a key or a word means the same
in each.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator

import click

from counterfoil import terminal
from counterfoil.keyboard import PACE_S, Keyboard, Typed
from counterfoil.view import stub, style
from pairing.desk.arrivals import Heard
from pairing.desk.phrases import worded
from pairing.desk.remarks import Remark
from pairing.desk.words import TABLE, Arrived, Work
from pairing.model import Side

_LONGEST_READ = 65_536
_CLEAR = "\x1b[H\x1b[2J\x1b[3J"
"""Cursor home, screen and scrollback erased (ECMA-48 CUP and ED; 3 is xterm's)."""

_AS = {
    Side.LABEL: "the label",
    Side.CARD: "the card",
    Side.BOX: "the box",
    Side.UNPLACED: "anything",
}


def is_terminal() -> bool:
    """Whether somebody sits at standard input."""
    return sys.stdin is not None and sys.stdin.isatty()


def from_pipe() -> Iterator[Typed]:
    """Each line of standard input."""
    if sys.stdin is None:
        return
    # Bounded, so that a file without line ends cannot fill the memory.
    while raw := sys.stdin.buffer.readline(_LONGEST_READ):
        yield Typed(text=raw.decode("utf-8", errors="replace"), arrived=Arrived.PIPED)


def from_terminal(
    prompt: Callable[[], str], *, pace_s: float = PACE_S, takes_blank: bool = False
) -> Iterator[Typed]:
    """Each line that is scanned or typed, up to the end of input.

    prompt: what is asked for now. pace_s: see `keyboard`. takes_blank: whether Enter alone is a
    line.
    """

    def echo(text: str) -> None:
        click.echo(text, nl=False, err=True)

    from counterfoil.terminal_keys import single_keys  # noqa: PLC0415 - for a terminal alone

    with single_keys() as keys:
        if keys.is_ready(0):
            wipe()  # what was scanned before the program was ready, the terminal has echoed
        keyboard = Keyboard(keys, echo, pace_s=pace_s)
        while True:
            echo(f"{prompt()} > ")
            typed = keyboard.read()
            if typed is None:
                return
            if takes_blank or typed.text.strip():
                yield typed


def wipe() -> None:
    """Erase screen and scrollback, where there is a screen."""
    if sys.stderr.isatty():
        screen = terminal.own(sys.stderr)
        screen.write(_CLEAR)
        screen.flush()


def help_text(work: Work) -> str:
    """The words of that work and what they do, a line each."""
    rows = [one for one in TABLE if work in one.used_in]
    heads = [f"{one.word} {one.follows}".strip() for one in rows]
    width = max(map(len, heads)) + 3
    return "\n".join(f"  {head:<{width}}{one.does}" for head, one in zip(heads, rows, strict=True))


class Aside:
    """Says what is no result: on standard error, from a pipe with the line that it is about."""

    def __init__(self, *, is_terminal: bool) -> None:
        self._is_terminal = is_terminal
        self._line = 0

    def next_line(self) -> None:
        """Another line was read."""
        self._line += 1

    def say(self, text: str) -> None:
        """One sentence or more."""
        if self._is_terminal:
            click.echo(stub.wrapped(text), err=True)
        else:
            click.echo(style.plain(f"line {self._line}: {text}" if self._line else text), err=True)

    def say_rows(self, text: str) -> None:
        """Lines in columns."""
        click.echo(text, err=True)

    def say_of(self, heard: Iterable[Heard], remarks: Iterable[Remark]) -> None:
        """What came of a line, other than a verdict. What counts and needs no word gets none."""
        for one in heard:
            told = " ".join(finding.message for finding in one.findings)
            if not one.counts:
                told = told or f"It may be this: {one.title}. Scan it again."
                self.say(f"Not counted as {_AS[one.side]}: {told}")
            elif told:
                self.say(told)
        for remark in remarks:
            self.say(worded(remark))

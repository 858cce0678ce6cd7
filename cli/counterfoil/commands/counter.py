"""`counterfoil counter`: a desk's day, piece by piece."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import click

from counterfoil import desk_lines, exits, options
from counterfoil.commands.check import prompt
from counterfoil.commands.expect import reckoning_lines
from counterfoil.keyboard import PACE_S, Typed
from counterfoil.view import ledger_lines, stub, style
from pairing.desk.answers import Advice, Answer
from pairing.desk.counter import Counter
from pairing.desk.expecting import reckon
from pairing.desk.for_whom import Asked
from pairing.desk.lookup import LIST_LIVES_FOR
from pairing.desk.words import Word, Work
from pairing.errors import LedgerUnusable
from pairing.ledger import Entry, Kind, Ledger
from pairing.model import Verdict
from pairing.pieces import office_rules
from pairing.wedge import WedgeSetup


@click.command("counter")
@options.ledger
@options.desk
@options.operator
@options.gs
@click.option(
    "--pace",
    "pace_ms",
    metavar="MS",
    type=click.IntRange(5, 500),
    default=round(PACE_S * 1000),
    show_default=True,
    help="Keys that follow each other faster are a scanner's, not a person's.",
)
@click.option(
    "--practice",
    is_flag=True,
    help="Try it: everything works, and the record is erased at the end.",
)
@options.ask_for_whom
@options.ask_kind
def command(  # noqa: PLR0913, PLR0917 - click hands every option over by name
    ledger_url: str | None,
    desk: str,
    operator: str,
    gs: tuple[str, ...],
    pace_ms: int,
    practice: bool,
    asked: str,
    asks_kind: bool,
) -> int:
    """Work at a counter: scans in any order, the box keyed blind, every piece recorded.

    A verdict is shown once it is on the disk; without that, it is "not recorded". Typed words
    (help lists them) cannot come from a scanner. Where standard input is no terminal, each of
    its lines is a scan or a word.
    """
    if practice and ledger_url is not None:
        raise click.UsageError("--practice has a ledger of its own; leave --ledger out.")
    with _opened(ledger_url, is_practice=practice) as ledger:
        return work(
            ledger,
            desk=desk,
            operator=operator,
            setup=office_rules.wedge_setup(gs),
            pace_s=pace_ms / 1000,
            is_practice=practice,
            asked=Asked(asked),
            asks_kind=asks_kind,
        )


@contextmanager
def _opened(ledger_url: str | None, *, is_practice: bool) -> Iterator[Ledger]:
    if not is_practice:
        with Ledger.open(ledger_url) as ledger:
            yield ledger
        return
    with (
        tempfile.TemporaryDirectory(prefix="counterfoil-practice-") as folder,
        Ledger.open(str(Path(folder) / "practice.db")) as ledger,
    ):
        yield ledger


_INTERRUPTED = "Ended in the middle of a piece: it is not recorded. Scan it again from the start."
_INTERRUPTED_BETWEEN = "Ended between two pieces: none was in hand."


def _now() -> datetime:
    return datetime.now(UTC)


def work(  # noqa: PLR0913 - each is a plain setting of the day
    ledger: Ledger,
    *,
    desk: str,
    operator: str,
    setup: WedgeSetup | None = None,
    pace_s: float = PACE_S,
    clock: Callable[[], datetime] = _now,
    is_practice: bool = False,
    asked: Asked = Asked.NEVER,
    asks_kind: bool = False,
) -> int:
    """The whole day, from the terminal or from a pipe; the exit code."""
    is_terminal = desk_lines.is_terminal()
    counter = Counter(
        ledger,
        desk=desk,
        operator=operator,
        setup=setup or WedgeSetup(),
        clock=clock,
        asked=asked,
        asks_kind=asks_kind,
        is_live=is_terminal,
    )
    day = _Day(counter, ledger, clock, is_terminal=is_terminal, is_practice=is_practice)
    day.begin()
    if is_terminal:
        before = "practice: " if is_practice else ""
        day.run(desk_lines.from_terminal(lambda: before + _prompt(counter), pace_s=pace_s))
    else:
        day.run(desk_lines.from_pipe())
    return day.end()


class _Day:
    """Shows what the counter gives back."""

    def __init__(
        self,
        counter: Counter,
        ledger: Ledger,
        clock: Callable[[], datetime],
        *,
        is_terminal: bool,
        is_practice: bool,
    ) -> None:
        self._is_practice = is_practice
        self._is_told = False  # the stopped pieces, by the question just before the end
        self._counter = counter
        self._ledger = ledger
        self._clock = clock
        self._is_terminal = is_terminal
        self._verdicts: list[Verdict] = []
        self._aside = desk_lines.Aside(is_terminal=is_terminal)

    def begin(self) -> None:
        """Who and where, and what is to be known before the first piece."""
        if self._is_terminal:
            who = f"{self._counter.operator} at {self._counter.desk}."
            self._aside.say(who if self._is_practice else f"{who} {self._ledger.where}")
        if self._is_practice:
            self._aside.say(_PRACTICE)
            self._aside.say_rows(stub.lines(_PRACTICE_LINES))
        if self._is_terminal:
            self._aside.say("Scan label and card, key the box. help lists the words.")
        for finding in self._ledger.warnings():
            self._aside.say(f"{finding.message} {finding.action}")

    def run(self, lines: Iterator[Typed]) -> None:
        """Take every line, up to the word that ends the day."""
        try:
            self._take(lines)
        except KeyboardInterrupt:
            is_idle = self._counter.is_idle
            self._aside.say(_INTERRUPTED_BETWEEN if is_idle else _INTERRUPTED)
            raise

    def _take(self, lines: Iterator[Typed]) -> None:
        for typed in lines:
            self._aside.next_line()
            answer = self._counter.take(typed.text, arrived=typed.arrived)
            self._show(answer)
            is_end = answer.word is Word.END
            self._is_told = bool(answer.unsettled) or (self._is_told and is_end)
            if is_end and not answer.asks:
                return
        self._show(self._counter.finish())

    def end(self) -> int:
        """The day's end; the exit code."""
        self._show(self._counter.say(Word.COUNT))
        left = self._counter.unsettled_here()
        if left and not self._is_told:
            click.echo(_unsettled(left))
        try:
            reckoning = reckon(self._ledger, since=self._clock() - LIST_LIVES_FOR)
        except LedgerUnusable as problem:
            self._aside.say(f"The lists cannot be read. {problem}")
        else:
            if reckoning.expected:
                click.echo("\n".join(map(style.plain, reckoning_lines(reckoning))))
        waiting = self._counter.unrecorded
        if self._is_practice:
            self._aside.say("That was practice: nothing of it was kept.")
        if waiting:
            click.echo(f"Not recorded: {waiting} piece{'s' * (waiting != 1)}. Scan them again.")
        return exits.NOT_DONE if waiting else exits.of_verdicts(self._verdicts)

    def _show(self, answer: Answer) -> None:
        if answer.unsettled:
            self._aside.say_rows(_unsettled(answer.unsettled))
        self._aside.say_of(answer.heard, answer.remarks)
        for piece in answer.finished:
            is_large = self._is_terminal and os.environ.get("TERM") != "dumb"
            click.echo(stub.piece(piece, is_large=is_large))
            if piece.advice is not Advice.NOT_RECORDED:
                self._verdicts.append(piece.judgment.verdict)
        if answer.recorded:
            self._recorded(answer)
        if answer.trouble:
            self._aside.say(f"Not recorded. {answer.trouble}")
        if answer.count:
            told = stub.count(answer.count)
            click.echo(stub.wrapped(told) if self._is_terminal else told)
        if answer.word is Word.HELP:
            click.echo(desk_lines.help_text(Work.COUNTER), err=True)
        if self._is_terminal and self._counter.was_shown:
            desk_lines.wipe()
            self._counter.screen_cleared()
            self._aside.say("The screen was wiped: this label's number was on it.")

    def _recorded(self, answer: Answer) -> None:
        assert answer.recorded is not None
        entry = answer.recorded.entry
        is_done = answer.recorded.is_as_offered
        self._aside.say(
            f"{_DONE[entry.kind] if is_done else 'Not done; noted'} as entry {entry.sequence}."
        )
        for finding in entry.said:
            self._aside.say(f"{finding.message} {finding.action}".strip())


_DONE = {Kind.VOIDED: "Voided, recorded", Kind.NOTE: "Recorded"}

_PRACTICE = (
    "Practice: nothing of this is kept; all else works as on a real day. Scan any label and card. "
    "Without a scanner, type these lines of an invented piece, whose box has two digits swapped:"
)
_PRACTICE_LINES = (
    "label 9589 0733 6140 0182 7216 44",
    "card 9590 9482 3108 6155 4016 51",
    "/9589 0733 6140 0182 2716 44",
    "confirm practice",
)
"""Piece 0028 of the demonstration's office, as a person would key it."""


def _unsettled(stops: Iterable[Entry]) -> str:
    """Stopped pieces, a line each, with what stopped them."""
    return "\n".join(["Stopped today and not settled:", *map(ledger_lines.stop_line, stops)])


def _prompt(counter: Counter) -> str:
    before = f"{counter.unrecorded} not recorded; " if counter.unrecorded else ""
    if counter.correcting is not None:
        before += f"entry {counter.correcting} again: "
    return before + prompt(counter)

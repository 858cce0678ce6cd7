"""`counterfoil counter`: a desk's day, piece by piece."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime

import click

from counterfoil import exits, options, show, stub, terminal
from counterfoil.commands.expect import reckoning_lines
from counterfoil.keyboard import PACE_S, Keyboard, TerminalKeys, Typed
from counterfoil.typing_line import single_keys
from pairing.desk.answers import Advice, Answer
from pairing.desk.counter import Counter
from pairing.desk.expecting import reckon
from pairing.desk.lookup import LIST_LIVES_FOR
from pairing.desk.words import Arrived, Word
from pairing.errors import CounterfoilError, LedgerUnusable
from pairing.findings import Finding
from pairing.ledger import Ledger
from pairing.model import Side, Verdict
from pairing.wedge import WedgeSetup

_LONGEST_READ = 65_536
_CLEAR = "\x1b[H\x1b[2J\x1b[3J"
"""Cursor home, screen and scrollback erased (ECMA-48 CUP and ED; 3 is xterm's)."""

_AS = {
    Side.LABEL: "the label",
    Side.CARD: "the card",
    Side.BOX: "the box",
    Side.UNPLACED: "anything",
}

_HELP = """\
Scan label and card in any order, then key what stands in the card's box.
  box NUMBER       what stands in the box; the key / will do for the word
  strip            the next scan is the strip in the box
  label NUMBER     the label's number, where its bars cannot be scanned
  card NUMBER      the card's number, likewise
  next             this piece ends here
  again            this piece starts anew
  correct [12]     entry 12, or the last, came from a slip: read that piece anew
  void 12 REASON   entry 12 does not count; its label's number will do for 12
  retry            offer again what was not recorded
  handover NAME    somebody else works here from now on
  count            what was done today
  note TEXT        put something on record
  end              end the day (so does Ctrl+D)"""


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
def command(
    ledger_url: str | None, desk: str, operator: str, gs: tuple[str, ...], pace_ms: int
) -> int:
    """Work at a counter: scans in any order, the box keyed blind, every piece recorded.

    A verdict is shown once it is on the disk; without that, it is "not recorded". Typed words
    (help lists them) cannot come from a scanner. Where standard input is no terminal, each of
    its lines is a scan or a word.
    """
    with Ledger.open(ledger_url) as ledger:
        return work(
            ledger,
            desk=desk,
            operator=operator,
            setup=WedgeSetup(gs_substitutes=gs),
            pace_s=pace_ms / 1000,
        )


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
) -> int:
    """The whole day, from the terminal or from a pipe; the exit code."""
    counter = Counter(
        ledger, desk=desk, operator=operator, setup=setup or WedgeSetup(), clock=clock
    )
    is_terminal = sys.stdin is not None and sys.stdin.isatty()
    day = _Day(counter, ledger, clock, is_terminal=is_terminal)
    day.begin()
    if is_terminal and os.name == "nt":
        raise CounterfoilError(
            "This terminal does not hand over single keys",
            where="standard input",
            remedy="Let the scans come through a pipe, or use the kiosk.",
        )
    if is_terminal:
        with single_keys():
            day.run(_from_terminal(counter, pace_s))
    else:
        day.run(_from_pipe())
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
    ) -> None:
        self._counter = counter
        self._ledger = ledger
        self._clock = clock
        self._is_terminal = is_terminal
        self._verdicts: list[Verdict] = []
        self._line = 0

    def begin(self) -> None:
        """Who and where, and what is to be known before the first piece."""
        if self._is_terminal:
            self._aside(f"{self._counter.operator} at {self._counter.desk}. {self._ledger.where}")
            self._aside("Scan label and card, key the box. help lists the words.")
        for finding in self._ledger.warnings():
            self._aside(f"{finding.message} {finding.action}")

    def run(self, lines: Iterator[Typed]) -> None:
        """Take every line, up to the word that ends the day."""
        for typed in lines:
            self._line += 1
            answer = self._counter.take(typed.text, arrived=typed.arrived)
            self._show(answer)
            if answer.word is Word.END:
                return
        self._show(self._counter.finish())

    def end(self) -> int:
        """The day's end; the exit code."""
        self._show(self._counter.say(Word.COUNT))
        try:
            reckoning = reckon(self._ledger, since=self._clock() - LIST_LIVES_FOR)
        except LedgerUnusable as problem:
            self._aside(f"The lists cannot be read. {problem}")
        else:
            if reckoning.expected:
                click.echo("\n".join(map(show.plain, reckoning_lines(reckoning))))
        waiting = self._counter.unrecorded
        if waiting:
            click.echo(f"Not recorded: {waiting} piece{'s' * (waiting != 1)}. Scan them again.")
        return exits.NOT_DONE if waiting else exits.of_verdicts(self._verdicts)

    def _show(self, answer: Answer) -> None:
        for heard in answer.heard:
            if not heard.counts:
                told = " ".join(heard.said) or f"This is a {heard.title}."
                self._aside(f"Not counted as {_AS[heard.side]}: {told}")
            elif heard.said:
                self._aside(" ".join(heard.said))
        for remark in answer.remarks:
            self._aside(remark)
        for piece in answer.finished:
            is_large = self._is_terminal and os.environ.get("TERM") != "dumb"
            click.echo(stub.piece(piece, is_large=is_large))
            if piece.advice is not Advice.NOT_RECORDED:
                self._verdicts.append(piece.judgement.verdict)
        if answer.recorded:
            self._recorded(answer)
        if answer.trouble:
            self._aside(f"Not recorded. {answer.trouble}")
        if answer.count:
            told = stub.count(answer.count)
            click.echo(stub.told(told) if self._is_terminal else told)
        if answer.word is Word.HELP:
            click.echo(_HELP, err=True)
        if self._is_terminal and self._counter.was_shown:
            _wipe()
            self._counter.screen_cleared()
            self._aside("The screen was wiped: this label's number was on it.")

    def _recorded(self, answer: Answer) -> None:
        assert answer.recorded is not None
        entry = answer.recorded.entry
        is_done = answer.recorded.is_as_offered
        self._aside(f"{'Recorded' if is_done else 'Not done; noted'} as entry {entry.sequence}.")
        for finding in entry.said:
            self._aside(_sentence(finding))

    def _aside(self, text: str) -> None:
        """What is no result goes to standard error; from a pipe with the line it is about."""
        if self._is_terminal:
            click.echo(stub.told(text), err=True)
        else:
            click.echo(show.plain(f"line {self._line}: {text}" if self._line else text), err=True)


def _wipe() -> None:
    """Erase screen and scrollback, where there is a screen."""
    if sys.stderr.isatty():
        screen = terminal.own(sys.stderr)
        screen.write(_CLEAR)
        screen.flush()


def _sentence(finding: Finding) -> str:
    return f"{finding.message} {finding.action}".strip()


def _from_pipe() -> Iterator[Typed]:
    if sys.stdin is None:
        return
    # Bounded, so that a file without line ends cannot fill the memory.
    while raw := sys.stdin.buffer.readline(_LONGEST_READ):
        yield Typed(text=raw.decode("utf-8", errors="replace"), arrived=Arrived.PIPED)


def _from_terminal(counter: Counter, pace_s: float) -> Iterator[Typed]:
    def echo(text: str) -> None:
        click.echo(text, nl=False, err=True)

    keys = TerminalKeys(sys.stdin.fileno())
    if keys.is_ready(0):
        _wipe()  # what was scanned before the program was ready, the terminal has echoed
    keyboard = Keyboard(keys, echo, pace_s=pace_s)
    while True:
        echo(_prompt(counter))
        typed = keyboard.read()
        if typed is None:
            return
        if typed.text.strip():
            yield typed


def _prompt(counter: Counter) -> str:
    missing = list(counter.missing)
    what = ", ".join(side.value for side in missing)
    if missing == [Side.BOX]:
        what = "box: key / and what stands there"
    elif missing == [Side.CARD] and counter.may_lack_card_number:
        what = "card, or next if it has no number"
    before = f"{counter.unrecorded} not recorded; " if counter.unrecorded else ""
    if counter.correcting is not None:
        before += f"entry {counter.correcting} anew: "
    return f"{before}{what} > "

"""`counterfoil check`: scans in, verdicts out."""

from __future__ import annotations

from collections.abc import Iterator

import click

from counterfoil import desk_lines, exits, options
from counterfoil.keyboard import Typed
from counterfoil.view import verdicts
from pairing.desk.answers import Answer
from pairing.desk.book import RunBook
from pairing.desk.rules import DECLARED, PIECE
from pairing.desk.session import Session
from pairing.desk.words import Arrived, Word, Work
from pairing.model import Side, Verdict
from pairing.pieces import office_rules


@click.command("check")
@click.argument("scans", metavar="[SCAN]...", nargs=-1)
@click.option(
    "--box", "boxes", multiple=True, metavar="NUMBER", help="What a person reads in the box."
)
@options.gs
@click.option("--brief", is_flag=True, help="One line a piece.")
def command(
    scans: tuple[str, ...], boxes: tuple[str, ...], gs: tuple[str, ...], brief: bool
) -> int:
    """Check pieces from scans: of the label, of the card, and of the box.

    \b
    SCANs are taken from the command line or, without any, a line each from
    standard input: label and card in any order, then the box. Some words are not
    scans:
      box NUMBER    what you read in the card's box (or /NUMBER)
      strip [SCAN]  the scan in this line, or the next one, is the strip in the box
      next          the piece ends here (so does a blank line)
      again         start this piece over
      help          list all words
    """
    if boxes and not scans:
        raise click.UsageError("--box goes with scans on the command line.")
    is_terminal = not scans and desk_lines.is_terminal()
    session = Session(
        RunBook(),
        operator="You",
        setup=office_rules.wedge_setup(gs),
        rules=DECLARED if boxes else PIECE,
        is_live=is_terminal,
    )
    run = _Run(session, brief=brief, is_terminal=is_terminal)
    if is_terminal:
        run.aside.say("Scan label and card in any order, then key the box. help lists the words.")
    run.take(_given(scans, boxes) if scans else _from_stdin(session, is_terminal=is_terminal))
    if not run.verdicts:
        click.echo("Nothing was scanned.", err=True)
        return exits.UNREAD
    return exits.of_verdicts(run.verdicts)


class _Run:
    """Shows what the session gives back."""

    def __init__(self, session: Session, *, brief: bool, is_terminal: bool) -> None:
        self._session = session
        self._block = verdicts.headline if brief else verdicts.verdict_block
        self.aside = desk_lines.Aside(is_terminal=is_terminal)
        self.verdicts: list[Verdict] = []

    def take(self, lines: Iterator[Typed]) -> None:
        """Take every line, up to the word that ends."""
        for typed in lines:
            self.aside.next_line()
            answer = self._session.take(typed.text, arrived=typed.arrived)
            self._show(answer)
            if answer.word is Word.END:
                return
        self._show(self._session.finish())

    def _show(self, answer: Answer) -> None:
        self.aside.say_of(answer.heard, answer.remarks)
        for piece in answer.finished:
            assert piece.entry is not None
            self.verdicts.append(piece.judgment.verdict)
            click.echo(self._block(f"Piece {piece.entry.sequence}", piece.judgment))
        if answer.word is Word.HELP:
            click.echo(desk_lines.help_text(Work.CHECK), err=True)


def _given(scans: tuple[str, ...], boxes: tuple[str, ...]) -> Iterator[Typed]:
    # The box first: several answers for one box are told, not chosen from.
    yield from (_line(f"box {box}") for box in boxes)
    words = iter(scans)
    for text in words:
        is_word = text.strip().lower() in ("box", "strip")
        yield _line(f"{text} {next(words, '')}" if is_word else text)


def _line(text: str) -> Typed:
    return Typed(text=text, arrived=Arrived.PIPED)


def _from_stdin(session: Session, *, is_terminal: bool) -> Iterator[Typed]:
    if not is_terminal:
        return desk_lines.from_pipe()
    return desk_lines.from_terminal(lambda: prompt(session))


def prompt(session: Session) -> str:
    """What the piece in hand needs next, by name."""
    missing = list(session.missing)
    if session.is_stopped:
        return "stopped: aside, or again"
    if session.must_confirm:
        return "scan the label, or confirm"
    if session.strip_is_next:
        return "strip"
    if missing == [Side.BOX]:
        return "box: key / and what is written there"
    if missing == [Side.CARD] and session.may_lack_card_number:
        return "card, or next if it has no number"
    return ", ".join(side.value for side in missing)

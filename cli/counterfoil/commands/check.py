"""`counterfoil check`: scans in, verdicts out."""

from __future__ import annotations

import sys
from collections.abc import Iterator

import click

from counterfoil import exits, show
from pairing.desk import Tray, TrayPiece
from pairing.model import Side
from pairing.wedge import WedgeSetup

_LONGEST_READ = 65_536


@click.command("check")
@click.argument("scans", metavar="[SCAN]...", nargs=-1)
@click.option("--box", metavar="NUMBER", help="What a person reads in the box (with SCANs).")
@click.option("--gs", multiple=True, metavar="TEXT", help="What the scanner sends in place of GS.")
@click.option("--brief", is_flag=True, help="One line a piece.")
def command(scans: tuple[str, ...], box: str | None, gs: tuple[str, ...], brief: bool) -> int:
    """Check pieces from scans: of the label, of the card, and of the box.

    \b
    SCANs are taken from the command line or, without any, a line each from
    standard input, in any order. Three words are no scans:
      box NUMBER    what a person reads in the card's box
      strip [SCAN]  the scan in this line, or the next one, is the strip in the box
      next          the piece ends here (so does a blank line)
    """
    if box is not None and not scans:
        raise click.UsageError("--box goes with scans on the command line.")
    tray = Tray(WedgeSetup(gs_substitutes=gs))
    verdicts = []
    lines = _given(scans, box) if scans else _from_stdin(tray)
    for piece in _pieces(tray, lines):
        verdicts.append(piece.judgement.verdict)
        name = f"Piece {piece.index}"
        block = show.headline if brief else show.verdict_block
        click.echo(block(name, piece.judgement))
    if not verdicts:
        click.echo("Nothing was scanned.", err=True)
        return exits.UNREAD
    return exits.of_verdicts(verdicts)


def _pieces(tray: Tray, lines: Iterator[str]) -> Iterator[TrayPiece]:
    for line in lines:
        yield from tray.take(line)
    yield from tray.close()


def _given(scans: tuple[str, ...], box: str | None) -> Iterator[str]:
    # The box first: it was read before anything could be shown.
    if box is not None:
        yield f"box {box}"
    yield from scans


def _from_stdin(tray: Tray) -> Iterator[str]:
    if not sys.stdin.isatty():
        # Bounded, so that a file without line ends cannot fill the memory.
        while raw := sys.stdin.buffer.readline(_LONGEST_READ):
            yield raw.decode("utf-8", errors="replace")
        return
    click.echo("Scan label and card; then the box is asked for. Ctrl+D ends.", err=True)
    while True:
        try:
            yield _ask(tray)
        except (EOFError, click.Abort):
            click.echo(err=True)
            return


def _ask(tray: Tray) -> str:
    """One line from the terminal. Scans are not echoed, so that the label's number is not on
    the screen while the box is read; the box is, because a person types it."""
    missing = tray.missing()
    if missing == (Side.BOX,):
        text: str = click.prompt(
            "Read the card's box and key it (or: strip)", prompt_suffix="> ", err=True
        )
        return text if text.strip().lower() in ("strip", "next") else f"box {text}"
    wanted = " and ".join(side.value for side in missing if side is not Side.BOX)
    hidden: str = click.prompt(
        f"Scan {wanted}",
        prompt_suffix="> ",
        hide_input=True,
        default="",
        show_default=False,
        err=True,
    )
    return hidden

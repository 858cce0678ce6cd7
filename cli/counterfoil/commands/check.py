"""`counterfoil check`: scans in, verdicts out."""

from __future__ import annotations

import sys
from collections.abc import Iterator

import click

from counterfoil import exits, options, show
from counterfoil.typing_line import read_line, single_keys
from pairing.desk import Tray, TrayPiece
from pairing.desk.entries import WORDS
from pairing.model import Side
from pairing.wedge import WedgeSetup

_LONGEST_READ = 65_536


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
    standard input, in any order. Four words are no scans:
      box NUMBER    what a person reads in the card's box
      strip [SCAN]  the scan in this line, or the next one, is the strip in the box
      next          the piece ends here (so does a blank line)
      again         start this piece anew
    """
    if boxes and not scans:
        raise click.UsageError("--box goes with scans on the command line.")
    tray = Tray(WedgeSetup(gs_substitutes=gs))
    verdicts = {}
    lines = _given(scans, boxes) if scans else _from_stdin(tray)
    for piece in _pieces(tray, lines):
        verdicts[piece.index] = piece.judgement.verdict
        name = f"Piece {piece.index}" + (" again" if piece.is_again else "")
        block = show.headline if brief else show.verdict_block
        click.echo(block(name, piece.judgement))
    if not verdicts:
        click.echo("Nothing was scanned.", err=True)
        return exits.UNREAD
    return exits.of_verdicts(verdicts.values())


def _pieces(tray: Tray, lines: Iterator[str]) -> Iterator[TrayPiece]:
    for line in lines:
        yield from tray.take(line)
    yield from tray.close()


def _given(scans: tuple[str, ...], boxes: tuple[str, ...]) -> Iterator[str]:
    # The box first: it was read before anything could be shown.
    yield from (f"box {box}" for box in boxes)
    words = iter(scans)
    for text in words:
        is_word = text.strip().lower() in ("box", "strip")
        yield f"{text} {next(words, '')}" if is_word else text


def _from_stdin(tray: Tray) -> Iterator[str]:
    if sys.stdin is None:
        return
    if not sys.stdin.isatty():
        # Bounded, so that a file without line ends cannot fill the memory.
        while raw := sys.stdin.buffer.readline(_LONGEST_READ):
            yield raw.decode("utf-8", errors="replace")
        return
    with single_keys():
        yield from _from_terminal(tray)


def _from_terminal(tray: Tray) -> Iterator[str]:
    click.echo(
        "Scan label and card in any order, then key the box: box NUMBER (or: strip, then scan "
        "the strip).\nnext ends a piece, again starts it anew, Ctrl+D ends.",
        err=True,
    )
    while (line := read_line(_prompt(tray), WORDS)) is not None:
        yield line
        for remark in tray.remarks:
            click.echo(show.paragraph(remark), err=True)


def _prompt(tray: Tray) -> str:
    missing = [side.value for side in tray.missing()]
    if missing == [Side.BOX.value]:
        return "type box and what stands there > "
    return f"to come: {', '.join(missing)} > "

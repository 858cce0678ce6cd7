"""`counterfoil returned`: cards that came back."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import click

from counterfoil import exits, options, show, show_returns
from counterfoil.opening import existing
from counterfoil.typing_line import read_line, single_keys
from pairing.desk.cardlines import WORDS, CardTray, ReadCard
from pairing.desk.returns import CardResult, take_back
from pairing.errors import PhotoUnusable
from pairing.ledger import Ledger
from pairing.model import How, Reading, Side
from pairing.wedge import WedgeSetup, parse_keyed

_LONGEST_READ = 65_536
_GROUP = 4
"""Digits of a printed group: several SCANs this short are one number without its quotes."""

_LARGEST_KEPT_BYTES = 64_000_000


@click.command("returned")
@click.argument("scans", metavar="[SCAN]...", nargs=-1)
@click.option("--box", metavar="NUMBER", help="What a person reads in the card's box.")
@click.option("--signed", type=options.DAY, help="The date beside the signature: 2026-11-25.")
@click.option("--name", metavar="TEXT", default="", help="Who signed; erasable, see `forget`.")
@click.option(
    "--photo",
    "photos",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A photo of one returned card. May be given again.",
)
@click.option("--keep-photos", is_flag=True, help="Store the photos in the ledger.")
@options.gs
@options.desk
@options.operator
@options.ledger
def command(  # noqa: PLR0913, PLR0917 - click hands every option over by name
    scans: tuple[str, ...],
    box: str | None,
    signed: date | None,
    name: str,
    photos: tuple[Path, ...],
    keep_photos: bool,
    gs: tuple[str, ...],
    desk: str,
    operator: str,
    ledger_url: str | None,
) -> int:
    """Record returned cards, and say what each is worth.

    \b
    SCANs of the cards' own barcodes are taken from the command line or, without
    any and without photos, a line each from standard input. Words about the card
    in hand:
      box NUMBER    what a person reads in the card's box
      strip [SCAN]  the scan in this line, or the next one, is the strip in the box
      card NUMBER   its own number, keyed because its bars cannot be scanned
      signed DATE   the date beside the signature, such as 2026-11-25
      name TEXT     who signed
      next          the card ends here (so does a blank line, or the next card)
      again         start this card anew
    Exit codes: 0 every box agrees, 10 something contradicts, 11 something is not
    known.
    """
    if len(scans) + len(photos) != 1 and (box or signed or name):
        raise click.UsageError("--box, --signed and --name go with one SCAN or one --photo.")
    if len(scans) > 1 and max(map(len, scans)) <= _GROUP:
        raise click.UsageError("A number with blanks is one SCAN only in quotes.")
    verdicts = []
    with existing(ledger_url) as opened:
        tray = CardTray(WedgeSetup(gs_substitutes=gs))
        cards = _given(tray, scans, photos) if scans or photos else _from_stdin(tray)
        for card in cards:
            whole = _with(card, box, signed, name)
            if keep_photos:
                _keep(opened, photos, whole)
            result = take_back(
                opened,
                whole,
                desk=desk,
                operator=operator,
                today=datetime.now().astimezone().date(),
            )
            verdicts.append(result.verdict)
            _show(result)
    if not verdicts:
        click.echo("No card was read.", err=True)
        return exits.UNREAD
    return exits.of_verdicts(verdicts)


def _show(result: CardResult) -> None:
    click.echo("\n".join(show_returns.block(result)) + "\n")


def _with(card: ReadCard, box: str | None, signed: date | None, name: str) -> ReadCard:
    """The card with what the command line says of it."""
    readings = card.readings
    if box is not None:
        scan = parse_keyed(box)
        readings += (
            Reading(
                side=Side.BOX,
                how=How.KEYED,
                number=scan.number,
                source="keyed",
                findings=scan.findings,
            ),
        )
    return replace(
        card,
        readings=readings,
        signed=signed or card.signed,
        name=" ".join(name.split()) or card.name,
    )


def _given(tray: CardTray, scans: Iterable[str], photos: Iterable[Path]) -> Iterator[ReadCard]:
    for scan in scans:
        yield from tray.take(scan)
        _tell(tray)
    yield from tray.close()
    if photos:
        from pairing.desk.cardphoto import card_in_photo  # noqa: PLC0415 - decoders are heavy

        for photo in photos:
            yield card_in_photo(photo)


def _keep(ledger: Ledger, photos: Iterable[Path], card: ReadCard) -> None:
    digests = set(card.photos.values())
    for photo in photos:
        try:
            with photo.open("rb") as file:
                content = file.read(_LARGEST_KEPT_BYTES + 1)
        except OSError as error:
            raise PhotoUnusable(
                f"The photo cannot be read ({error.strerror or error})",
                where=show.path_text(photo),
                remedy="Check the path.",
            ) from error
        if len(content) > _LARGEST_KEPT_BYTES:
            raise PhotoUnusable(
                "The photo is too large to be stored",
                where=show.path_text(photo),
                remedy="Leave --keep-photos out, or store a smaller one.",
            )
        from hashlib import sha256  # noqa: PLC0415

        if sha256(content).hexdigest() in digests:
            ledger.keep_photo(content)


def _from_stdin(tray: CardTray) -> Iterator[ReadCard]:
    if sys.stdin is None:
        return
    if sys.stdin.isatty():
        with single_keys():
            yield from _from_terminal(tray)
        return
    # Bounded, so that a file without line ends cannot fill the memory.
    while raw := sys.stdin.buffer.readline(_LONGEST_READ):
        yield from tray.take(raw.decode("utf-8", errors="replace"))
        _tell(tray, only_trouble=True)
    yield from tray.close()


def _from_terminal(tray: CardTray) -> Iterator[ReadCard]:
    click.echo(
        "Scan a card's own barcode, then key the box: box NUMBER. signed DATE and name TEXT "
        "if you like.\nEnter or the next card ends a card, Ctrl+D ends.",
        err=True,
    )
    while True:
        prompt = "card > " if tray.is_empty else "box, strip, signed, name, or Enter > "
        line = read_line(prompt, WORDS)
        if line is None:
            break
        done = tray.take(line)
        _tell(tray)
        yield from done
    yield from tray.close()


def _tell(tray: CardTray, *, only_trouble: bool = False) -> None:
    for remark in tray.remarks:
        if not only_trouble or not remark.endswith(" read"):
            click.echo(show.paragraph(remark), err=True)

"""`counterfoil returned`: cards that came back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import click

from counterfoil import desk_lines, exits, options
from counterfoil.keyboard import Typed
from counterfoil.opening import existing
from counterfoil.view import returned_lines, style
from pairing.desk import commands
from pairing.desk.card_session import CardSession, ReadCard
from pairing.desk.remarks import Remark, Say
from pairing.desk.returns import CardResult, take_back
from pairing.desk.words import Arrived, Word, Work, parse_line
from pairing.errors import PhotoUnusable
from pairing.ledger import Draft, Ledger
from pairing.model import How, Reading, Side, Verdict
from pairing.pieces import office_rules
from pairing.wedge import parse_keyed

_GROUP = 4
"""Digits of a printed group: several SCANs this short are one number without its quotes."""

_LARGEST_KEPT_BYTES = 64_000_000


@click.command("returned")
@click.argument("scans", metavar="[SCAN]...", nargs=-1)
@click.option("--box", metavar="NUMBER", help="What a person reads in the card's box.")
@click.option("--signed", type=options.DAY, help="The date beside the signature: 2026-11-25.")
@click.option("--unsigned", is_flag=True, help="The card is not signed.")
@click.option("--name", metavar="TEXT", default="", help="Who signed; erasable, see `forget`.")
@options.files("--photo", "photos", "A photo of one returned card.")
@click.option("--keep-photos", is_flag=True, help="Store the photos in the ledger.")
@options.only_notes
@options.gs
@options.desk
@options.operator
@options.ledger
def command(  # noqa: PLR0913, PLR0917 - click hands every option over by name
    scans: tuple[str, ...],
    box: str | None,
    signed: date | None,
    unsigned: bool,
    name: str,
    photos: tuple[Path, ...],
    keep_photos: bool,
    only_notes: tuple[str, ...],
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
      box NUMBER    what you read in the card's box (or /NUMBER)
      strip [SCAN]  the scan in this line, or the next one, is the strip in the box
      card NUMBER   its own number, keyed because its bars cannot be scanned
      signed DATE   it is signed, with the date beside the signature: 2026-11-25,
                    today or yesterday
      unsigned      it is not signed
      name TEXT     who signed
      next          the card ends here (so does a blank line, or the next card)
      again         start this card over
      void 12 WHY   entry 12, a card's return say, does not count
    Exit codes: 0 every box agrees, 10 something contradicts, 11 something is not
    known.
    """
    if len(scans) + len(photos) != 1 and (box or signed or unsigned or name):
        raise click.UsageError(
            "--box, --signed, --unsigned and --name go with one SCAN or one --photo."
        )
    if signed and unsigned:
        raise click.UsageError("Give --signed or --unsigned, not both.")
    if len(scans) > 1 and max(map(len, scans)) <= _GROUP:
        raise click.UsageError("A number with blanks is one SCAN only in quotes.")
    results: list[CardResult] = []
    with existing(ledger_url) as opened:
        is_live = not (scans or photos) and desk_lines.is_terminal()
        session = CardSession(office_rules.wedge_setup(gs), is_live=is_live)
        voids = _Voids(opened, session, desk=desk, operator=operator)
        cards = _given(session, scans, photos) if scans or photos else _from_stdin(session, voids)
        for card in cards:
            whole = _with(card, box, False if unsigned else signed, name)
            if keep_photos:
                _keep(opened, photos, whole, desk=desk, operator=operator)
            result = take_back(
                opened,
                whole,
                desk=desk,
                operator=operator,
                today=datetime.now().astimezone().date(),
                last=results[-1] if results and is_live else None,
                only_notes=only_notes,
            )
            if whole.amends and results:
                results.pop()
            results.append(result)
            session.judged(is_in_order=result.verdict is Verdict.AGREES)
            _show(result)
    if not results:
        click.echo("No card was read.", err=True)
        return exits.UNREAD
    return exits.of_verdicts([one.verdict for one in results])


def _show(result: CardResult) -> None:
    click.echo("\n".join(returned_lines.block(result)) + "\n")


def _with(card: ReadCard, box: str | None, signed: date | bool | None, name: str) -> ReadCard:
    """The card with what the command line says of it. signed: False for a card without
    signature."""
    if signed is not None:
        day = signed if isinstance(signed, date) else None
        card = replace(card, is_signed=day is not None, is_dated=day is not None, signed=day)
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
        name=" ".join(name.split()) or card.name,
    )


def _given(
    session: CardSession, scans: Iterable[str], photos: Iterable[Path]
) -> Iterator[ReadCard]:
    aside = desk_lines.Aside(is_terminal=True)
    for scan in scans:
        answer = session.take(scan)
        aside.say_of(answer.heard, answer.remarks)
        yield from answer.cards
    yield from session.close().cards
    if photos:
        from pairing.desk.cardphoto import card_in_photo  # noqa: PLC0415 - decoders are heavy

        for photo in photos:
            yield card_in_photo(photo)


def _keep(
    ledger: Ledger, photos: Iterable[Path], card: ReadCard, *, desk: str, operator: str
) -> None:
    digests = set(card.photos.values())
    for photo in photos:
        try:
            with photo.open("rb") as file:
                content = file.read(_LARGEST_KEPT_BYTES + 1)
        except OSError as error:
            raise PhotoUnusable(
                f"The photo cannot be read ({error.strerror or error})",
                where=style.path_text(photo),
                remedy="Check the path.",
            ) from error
        if len(content) > _LARGEST_KEPT_BYTES:
            raise PhotoUnusable(
                "The photo is too large to be stored",
                where=style.path_text(photo),
                remedy="Leave --keep-photos out, or store a smaller one.",
            )
        from hashlib import sha256  # noqa: PLC0415

        if sha256(content).hexdigest() in digests:
            ledger.keep_photo(content, desk=desk, operator=operator)


class _Voids:
    """The word `void` and the question that it asks, with the meaning that they have at the
    counter."""

    def __init__(self, ledger: Ledger, session: CardSession, *, desk: str, operator: str) -> None:
        self._ledger = ledger
        self._session = session
        self._desk = desk
        self._operator = operator
        self._asked: Draft | None = None

    def take(self, typed: Typed, aside: desk_lines.Aside) -> bool:
        """Take a line, if it is about this; whether it was."""
        asked, self._asked = self._asked, None
        said = parse_line(typed.text, typed.arrived)
        if asked is not None and said.word is Word.YES:
            return self._record(asked, aside)
        if asked is not None:
            aside.say_of((), (Remark(code=Say.NOT_DONE),))
            return said.text.strip().lower() in ("no", "n")
        if said.word is not Word.VOID or typed.arrived not in (Arrived.TYPED, Arrived.PIPED):
            return False
        draft = commands.void(self._ledger, said.text.strip())
        if isinstance(draft, Remark):
            aside.say_of((), (draft,))
            return True
        entry = self._ledger.entry(draft.refers or 0)
        assert entry is not None
        which = commands.described(entry, is_label_hidden=not self._session.is_empty)
        is_asked = desk_lines.is_terminal()
        code = Say.VOID_ASKED if is_asked else Say.VOIDING
        aside.say_of((), (Remark(code=code, entry=entry.sequence, text=which),))
        if is_asked:
            self._asked = draft
            return True
        return self._record(draft, aside)

    def _record(self, draft: Draft, aside: desk_lines.Aside) -> bool:
        outcome = self._ledger.append(replace(draft, desk=self._desk, operator=self._operator))
        done = "Voided, recorded" if outcome.is_as_offered else "Not done; noted"
        aside.say(f"{done} as entry {outcome.entry.sequence}.")
        for finding in outcome.entry.said:
            aside.say(f"{finding.message} {finding.action}".strip())
        return True


def _from_stdin(session: CardSession, voids: _Voids) -> Iterator[ReadCard]:
    is_terminal = desk_lines.is_terminal()
    aside = desk_lines.Aside(is_terminal=is_terminal)
    if is_terminal:
        aside.say("Scan a card's own barcode, then key the box. Enter or the next card ends it.")
        aside.say("help lists the words.")
        lines = desk_lines.from_terminal(lambda: _prompt(session), takes_blank=True)
    else:
        lines = desk_lines.from_pipe()
    for typed in lines:
        aside.next_line()
        if voids.take(typed, aside):
            continue
        answer = session.take(typed.text, arrived=typed.arrived)
        aside.say_of(answer.heard, answer.remarks)
        if answer.word is Word.HELP:
            click.echo(desk_lines.help_text(Work.RETURNED), err=True)
        yield from answer.cards
        if answer.word is Word.END:
            return
    yield from session.close().cards


def _prompt(session: CardSession) -> str:
    return "card" if session.is_empty else "box, strip, signed, unsigned, name, or Enter"

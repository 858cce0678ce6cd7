"""`counterfoil ledger show`: one number's whole story."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping

import click

from counterfoil import exits, options
from counterfoil.commands.ledger.listing import piece_members
from counterfoil.opening import existing
from counterfoil.view import ledger_lines, style
from pairing.desk import dates, daylist
from pairing.ledger import Ledger, Piece, Story
from pairing.ledger.entries import members
from pairing.model import Rejection
from pairing.pieces import office_rules


@click.command("show")
@click.argument("number", nargs=-1, required=True)
@click.option("--names", is_flag=True, help="With names and addresses, where they are kept.")
@options.as_json
@options.ledger
def command(number: tuple[str, ...], names: bool, as_json: bool, ledger_url: str | None) -> int:
    """Tell the whole story of NUMBER: of a label, of a card, or what was in a box.

    Exit code 0 if the ledger knows it, 11 if not.
    """
    text = canonical(number)
    with existing(ledger_url) as opened:
        story = opened.story(text)
        beside = _beside(opened, story) if names else {}
        lists = [line for piece in story.pieces for line in _lists(opened, piece)]
    if as_json:
        click.echo(json.dumps(_members(story, beside), ensure_ascii=True, indent=2))
    elif story.entries:
        click.echo("\n".join(_story_lines(story, beside, lists)))
    if not story.entries:
        click.echo(f"The ledger knows nothing of {ledger_lines.number(text)}.", err=True)
        return exits.UNREAD
    return exits.ALL_AGREE


def canonical(number: Iterable[str]) -> str:
    """A number as it is recorded, from words of the command line; with a remark on standard
    error where it is not a valid number (a box may have held such a text)."""
    found = office_rules.identified(" ".join(number))
    if not found.text:
        raise click.UsageError("Give a number.")
    if isinstance(found, Rejection):
        click.echo(style.paragraph(found.message, head="look"), err=True)
    return found.text


def _beside(ledger: Ledger, story: Story) -> dict[int, dict[str, str]]:
    found = {entry.sequence: ledger.particulars(entry.sequence) for entry in story.entries}
    return {sequence: named for sequence, named in found.items() if named is not None}


def _lists(ledger: Ledger, piece: Piece) -> Iterable[str]:
    """The day lists that a piece is on."""
    day = dates.day_of(piece.first.when)
    for one in daylist.given_out(ledger, day):
        for says, rows in (
            ("sealed", one.entered),
            ("struck", one.struck),
            ("corrected", tuple(change.now for change in one.changed)),
        ):
            if piece.sequence in {row.sequence for row in rows}:
                yield f"Entry {piece.sequence}: {says} on list {one.number} of {one.day}."


def _story_lines(
    story: Story, beside: Mapping[int, dict[str, str]], lists: Iterable[str]
) -> Iterable[str]:
    found = office_rules.identified(story.number)
    title = "not a valid number" if isinstance(found, Rejection) else found.family.title
    yield f"{click.style(ledger_lines.number(story.number), bold=True)}  ({title})"
    if not story.pieces:
        yield style.paragraph("No sealed piece has it.", head="piece")
    for piece in story.pieces:
        yield ledger_lines.piece_block(piece)
    for one in story.expected:
        said = "withdrawn" if one.is_withdrawn else "expected"
        yield style.paragraph(f"entry {one.entry.sequence}, {said}", head="expected")
    for line in lists:
        yield style.paragraph(line, head="list")
    for entry in story.entries:
        yield ""
        yield ledger_lines.entry_block(entry, beside.get(entry.sequence))


def _members(story: Story, beside: Mapping[int, dict[str, str]]) -> dict[str, object]:
    return {
        "number": story.number,
        "pieces": [piece_members(piece) for piece in story.pieces],
        "expected": [
            {"entry": one.entry.sequence, "withdrawn": one.is_withdrawn} for one in story.expected
        ],
        "entries": [members(entry) for entry in story.entries],
        "beside": {str(sequence): named for sequence, named in beside.items()},
    }

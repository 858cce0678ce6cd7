"""`counterfoil compare`: two numbers beside each other."""

from __future__ import annotations

import click

from counterfoil import exits
from counterfoil.view import style, verdicts
from pairing.compare import compare
from pairing.findings import Weight
from pairing.model import Rejection, Role, TrackingNumber
from pairing.numbers import group_sizes, is_number
from pairing.wedge import parse_keyed


@click.command("compare")
@click.argument("label")
@click.argument("card")
def command(label: str, card: str) -> int:
    """Compare the number on the LABEL with what is written in the CARD's box.

    Exit code 0 if they are equal and a valid number, 10 if not or if a side is empty.
    """
    one, other = parse_keyed(label), parse_keyed(card)
    number = one.number
    sizes = group_sizes(number)
    comparison = compare(one.number.text, other.number.text, group_sizes=sizes, is_valid=is_number)
    click.echo("\n".join(verdicts.aligned(comparison, sizes, ("label", "box"))))
    if not one.number.text or not other.number.text:
        empty = [name for name, side in (("label", one), ("box", other)) if not side.number.text]
        click.echo(style.paragraph(f"Nothing was read: {' and '.join(empty)}.", head="look"))
        # Not read is not "differs", in words. The code is older, and other programs rely on it.
        return exits.DIFFERS
    if isinstance(number, Rejection):
        click.echo(style.paragraph(f"The label's number: {number.message}", head="look"))
    if not comparison.equal:
        click.echo(style.paragraph(comparison.message, head="differs"))
        return exits.DIFFERS
    click.echo(style.paragraph("Every digit is the same.", head="equal"))
    doubts = [f for scan in (one, other) for f in scan.findings if f.weight is Weight.DOUBT]
    for finding in dict.fromkeys(doubts):
        click.echo(style.paragraph(finding.message, head="look"))
    if isinstance(number, TrackingNumber) and number.role is not Role.ARTICLE:
        click.echo(
            style.paragraph(f"This is a {number.family.title}, not an article.", head="look")
        )
    return exits.DIFFERS if doubts or isinstance(number, Rejection) else exits.ALL_AGREE

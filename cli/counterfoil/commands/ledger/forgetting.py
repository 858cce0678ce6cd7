"""`counterfoil ledger forget`: erase names and addresses of one piece."""

from __future__ import annotations

import click

from counterfoil import exits, options
from counterfoil.commands.ledger.story import canonical
from counterfoil.opening import existing
from counterfoil.view import ledger_lines


@click.command("forget")
@click.argument("number", nargs=-1, required=True)
@click.option("--yes", is_flag=True, help="Do not ask.")
@options.desk
@options.operator
@options.ledger
def command(
    number: tuple[str, ...], yes: bool, desk: str, operator: str, ledger_url: str | None
) -> int:
    """Erase names, addresses and photos of every piece that bears NUMBER, and record that it
    was done. The entries stay, and everything still matches.

    Backups and exports made before keep what they have.
    """
    text = canonical(number)
    with existing(ledger_url) as opened:
        if not opened.story(text).entries:
            click.echo(f"The ledger knows nothing of {ledger_lines.number(text)}.", err=True)
            return exits.UNREAD
        if not yes:
            click.confirm(
                f"Erase names, addresses and photos of {ledger_lines.number(text)} for good?",
                abort=True,
                err=True,
            )
        gone = opened.forget(text, desk=desk, operator=operator)
    if gone:
        click.echo(f"Erased: {gone} record{'s' if gone != 1 else ''} beside the entries.")
        click.echo("Backups and exports made before keep what they have.", err=True)
    else:
        click.echo("There was nothing to erase.")
    return exits.ALL_AGREE

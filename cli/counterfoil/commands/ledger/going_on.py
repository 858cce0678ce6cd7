"""`counterfoil ledger go-on`: seal again after tampering was found."""

from __future__ import annotations

import click

from counterfoil import exits, options
from counterfoil.opening import existing
from counterfoil.view import style


@click.command("go-on")
@click.option(
    "--reason", required=True, metavar="TEXT", help="What was found out, and who decided. Recorded."
)
@click.option("--yes", is_flag=True, help="Do not ask.")
@options.desk
@options.operator
@options.ledger
def command(reason: str, yes: bool, desk: str, operator: str, ledger_url: str | None) -> int:
    """Seal pieces again although the ledger's end is missing or is another one.

    As long as that is so, every piece is recorded as stopped. What was found is recorded with
    the reason; what this machine saw or signed before is not asked for any more. If a copy was
    put back on purpose, this is the way; otherwise find out first who changed the ledger.
    """
    said = " ".join(reason.split())
    if not said:
        raise click.UsageError("Give a --reason.")
    with existing(ledger_url) as opened:
        if not yes:
            click.confirm("Seal pieces with the ledger as it is?", abort=True, err=True)
        entry = opened.go_on(reason=said, desk=desk, operator=operator)
    if entry is None:
        click.echo("Nothing stops sealing; nothing was recorded.")
        return exits.UNREAD
    click.echo(style.paragraph(f"Recorded as entry {entry.sequence}. Pieces are sealed again."))
    return exits.ALL_AGREE

"""`counterfoil blindspots`: what a family's check digit cannot see."""

from __future__ import annotations

from fractions import Fraction

import click

from counterfoil import exits
from counterfoil.view import style
from pairing.blindspots import BlindSpot, BlindspotTable, blindspots
from pairing.compare import CopyError
from pairing.model import Role
from pairing.numbers import MODULES, family, spaced

_WHOLE_NUMBERS = (CopyError.CARD_OWN, CopyError.OTHER_PIECE, CopyError.PAD_NEIGHBOR)


@click.command("blindspots")
@click.argument("name", metavar="FAMILY", type=click.Choice(list(MODULES)))
@click.option("--length", type=int, help="Which of the family's lengths (by default the first).")
@click.option("--examples", is_flag=True, help="Show a pair that passes for each error.")
def command(name: str, length: int | None, examples: bool) -> int:
    """The share of each copying error that FAMILY's check digit does not catch.

    \b
    Exact shares over all valid numbers, given that the error changed the number.
    FAMILY is one of: label22, label20, package, card22, s10, sscc, routing.
    """
    chosen = family(name)
    if length is not None and length not in chosen.lengths:
        known = ", ".join(map(str, chosen.lengths))
        raise click.BadParameter(f"{name} has {known}.", param_hint="--length")
    table = blindspots(chosen, length=length)
    click.echo(f"{chosen.title}, {table.length} characters; check digit: {table.check_rule.value}")
    click.echo()
    click.echo(f"  {'copying error':<42}{'not caught':>10}{'seen 1969':>12}")
    for row in table.rows:
        if row.error in _WHOLE_NUMBERS and chosen.role is not Role.ARTICLE:
            continue  # only an article's number can be written wrongly in the box
        click.echo(_line(row))
        if examples and row.example:
            for text in row.example:
                click.echo(f"      {spaced(text, chosen.group_sizes)}")
    click.echo()
    click.echo(_weighted(table))
    for note in (*table.notes, "Only the comparison of label and box finds these errors all."):
        click.echo(style.paragraph(note, head="note"))
    return exits.ALL_AGREE


def _line(row: BlindSpot) -> str:
    share = row.verhoeff_share
    beside = f"{_percent(share):>12}" if share is not None else f"    {row.why}"
    return f"  {row.title:<42}{_percent(row.share):>10}{beside}".rstrip()


def _weighted(table: BlindspotTable) -> str:
    return style.paragraph(
        f"{_percent(table.weighted)} of numbers with one such error pass the check digit, "
        "the errors weighted as Verhoeff counted them in 1969.",
        head="in all",
    )


def _percent(share: Fraction) -> str:
    """Two decimals; a share that is neither nothing nor everything never looks like either."""
    if share in (0, 1):
        return f"{int(share * 100)} %"
    return f"{min(max(float(share * 100), 0.01), 99.99):.2f} %"

"""`counterfoil expect`: the pairs that another system printed."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from datetime import UTC, date, datetime
from pathlib import Path

import click

from counterfoil import exits, options
from counterfoil.view import style
from pairing.desk import dates
from pairing.desk.expecting import Reckoning, load, reckon
from pairing.desk.for_whom import Field
from pairing.desk.lookup import LIST_LIVES_FOR
from pairing.desk.pairlist import Column, PairList, RefusedRow, read_list
from pairing.ledger import Entry, Kind, Ledger
from pairing.numbers import printed

_MOST_REFUSED = 20
_MANY = 200
"""More pairs than are recorded in a moment."""


@click.command("expect")
@click.argument(
    "file", metavar="[FILE.csv]", required=False, type=click.Path(path_type=Path, dir_okay=False)
)
@click.option("--article", default="", metavar="COLUMN", help="The article numbers' column.")
@click.option("--card", default="", metavar="COLUMN", help="The card numbers' column.")
@click.option("--name", default="", metavar="COLUMN", help="The addressees' column.")
@click.option("--address", default="", metavar="COLUMN", help="The addresses' column.")
@click.option("--reference", default="", metavar="COLUMN", help="Your own references' column.")
@click.option("--service", default="", metavar="COLUMN", help="The services' column.")
@click.option("--fee", default="", metavar="COLUMN", help="The fees' column.")
@click.option(
    "--missing",
    is_flag=True,
    help="What is on the lists and has not come, and what came without being listed.",
)
@click.option(
    "--since",
    type=options.DAY,
    metavar="DAY",
    help="With --missing: lists and pieces from this day on; by default the last 24 hours.",
)
@options.ledger
@options.desk
@options.operator
def command(  # noqa: PLR0913, PLR0917 - click hands every option over by name
    file: Path | None,
    article: str,
    card: str,
    missing: bool,
    since: date | None,
    ledger_url: str | None,
    desk: str,
    operator: str,
    **about: str,
) -> int:
    """Load the pairs that another system printed, and compare the pieces with them.

    FILE has a row for each pair, with the article's number and the number of its card. A
    column is named by its head or its place (1, 2, ...); otherwise it is recognized by what it
    holds. Columns headed name, address, reference, service and fee say whom a piece is for;
    `ledger forget` can erase that. Loading a file again adds nothing.
    """
    if file is None and not missing:
        raise click.UsageError("Give a FILE to load, or --missing.")
    if file is None and (article or card or any(about.values())):
        raise click.UsageError("--article, --card and other columns go with a FILE.")
    code = exits.ALL_AGREE
    with Ledger.open(ledger_url, must_exist=file is None) as ledger:
        now = datetime.now(UTC)
        if file is not None:
            pairs = read_list(
                file,
                article=article,
                card=card,
                about={Field(one): column for one, column in about.items()},
            )
            code = _load(ledger, pairs, desk=desk, operator=operator, now=now)
        if missing:
            start = dates.span(since)[0] if since else now - LIST_LIVES_FOR
            reckoning = reckon(ledger, since=start)
            click.echo("\n".join(reckoning_lines(reckoning)))
            code = _code(reckoning) or code
    return code


def _load(ledger: Ledger, pairs: PairList, *, desk: str, operator: str, now: datetime) -> int:
    click.echo(_column("article", pairs.article))
    click.echo(_column("card", pairs.card) if pairs.card else "card     no column has such numbers")
    for field, column in pairs.about.items():
        click.echo(f"{field:<8} {style.plain(column.name)} ({column.holds} filled)")
    if len(pairs.pairs) > _MANY and sys.stderr.isatty():
        click.echo(f"Recording {len(pairs.pairs)} pairs ...", err=True)
    loaded = load(ledger, pairs, desk=desk, operator=operator, now=now)
    refused = (*pairs.refused, *loaded.refused)
    _tell_refused(refused)
    known = loaded.known + pairs.repeated
    click.echo(
        f"{style.plain(pairs.name)}: {_many(loaded.added, 'pair')} added, "
        f"{known} known already, {_many(len(refused), 'row')} refused"
    )
    return exits.SKIPPED if refused else exits.ALL_AGREE


def _tell_refused(refused: Sequence[RefusedRow]) -> None:
    for row in sorted(refused, key=lambda one: one.line)[:_MOST_REFUSED]:
        click.echo(f"line {row.line}: {style.plain(row.reason)}", err=True)
    if len(refused) > _MOST_REFUSED:
        lines = ", ".join(str(row.line) for row in sorted(refused, key=lambda one: one.line))
        click.echo(f"refused lines: {lines}", err=True)


def _column(what: str, column: Column) -> str:
    how = "recognized by what it holds" if column.is_guessed else "as named"
    return f"{what:<8} {style.plain(column.name)} ({how}: {_many(column.holds, 'such number')})"


def reckoning_lines(reckoning: Reckoning) -> list[str]:
    """What is missing, exchanged and unexpected, a line each."""
    if not reckoning.expected:
        return ["No list was loaded; nothing is expected."]
    left, missing = len(reckoning.left), len(reckoning.missing)
    met = reckoning.expected - left - missing
    lines = [
        f"Of {_many(reckoning.expected, 'expected pair')}, {met} sealed, {left} not sealed, "
        f"{missing} missing."
    ]
    for one in reckoning.missing:
        card = f", card {_number(one.card)}" if one.card else ""
        lines.append(f"  missing     {_number(one.article)}{card} ({style.plain(one.remark)})")
    for one in reckoning.left:
        lines.append(f"  not sealed  {_number(one.article)} ({_entry(one)})")
    for one in reckoning.exchanged:
        lines.append(
            f"  other card  {_number(one.article)} with card {_number(one.card)} "
            f"(entry {one.sequence})"
        )
    for one in reckoning.unexpected:
        lines.append(f"  on no list  {_number(one.article)} (entry {one.sequence})")
    return lines


def _entry(entry: Entry) -> str:
    what = "voided" if entry.kind is Kind.PAIRED else entry.kind.value
    return f"entry {entry.sequence}, {what}"


def _number(text: str | None) -> str:
    return style.plain(printed(text)) if text else "not read"


def _many(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _code(reckoning: Reckoning) -> int:
    if reckoning.exchanged:
        return exits.DIFFERS
    return (
        exits.UNREAD
        if reckoning.missing or reckoning.left or reckoning.unexpected
        else exits.ALL_AGREE
    )

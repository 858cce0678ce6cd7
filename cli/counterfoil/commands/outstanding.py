"""`counterfoil outstanding`: pieces whose card has not come back."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import click

from counterfoil import exits, options
from counterfoil.opening import existing
from counterfoil.view import ledger_lines, style
from pairing import output
from pairing.csv_tables import encoded
from pairing.desk import outstanding as cards
from pairing.desk.for_whom import total
from pairing.desk.outstanding import Outstanding

_SPAN = re.compile(r"\s*(\d{1,4})\s*(d|days?|w|weeks?)?\s*", re.IGNORECASE)


def _days(_: click.Context, __: click.Parameter, given: Any) -> timedelta:
    match = _SPAN.fullmatch(given)
    if match is None:
        raise click.BadParameter(f"{given!r} is not a time span; write it as 30d or 6w.")
    return timedelta(days=int(match[1]) * (7 if (match[2] or "d").lower()[0] == "w" else 1))


@click.command("outstanding")
@click.option(
    "--older-than",
    metavar="SPAN",
    default="0d",
    callback=_days,
    help="Sealed at least that long ago: 30d, 6w. By default all.",
)
@click.option("--desk", metavar="NAME", help="Of that desk.")
@click.option(
    "--inquiry",
    "inquiry",
    metavar="SPAN",
    default=f"{cards.INQUIRY_DAYS}d",
    show_default=True,
    callback=_days,
    help="How long after mailing your operator takes an inquiry about a missing card.",
)
@click.option("--csv", "table", metavar="FILE", help="Write it as CSV; - for standard output.")
@click.option(
    "--pdf",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write the inquiry list: number, date of mailing, addressee.",
)
@options.sender
@click.option("--paper", type=click.Choice(("letter", "a4")), default="letter", show_default=True)
@options.font
@options.ledger
def command(  # noqa: PLR0913, PLR0917 - click hands every option over by name
    older_than: timedelta,
    desk: str | None,
    inquiry: timedelta,
    table: str | None,
    pdf: Path | None,
    sender: str,
    paper: str,
    font: Path | None,
    ledger_url: str | None,
) -> int:
    """List sealed pieces whose card has not come back, oldest first.

    Deadlines come from the postal operator; the dates shown are reminders. Names are shown where
    they are kept.
    """
    if pdf and table:
        raise click.UsageError("Give --pdf or --csv.")
    if pdf:
        output.check_new(pdf)
    target = Path(table) if table not in (None, "-") else None
    if target:
        output.check_new(target)
    with existing(ledger_url) as opened:
        rows = cards.outstanding(
            opened,
            now=datetime.now(UTC),
            least_days=older_than.days,
            desk=desk,
            inquiry_days=inquiry.days,
        )
        if pdf:
            _write_pdf(pdf, list(rows), (paper, font), options.sender_lines(sender))
        elif target:
            output.write_new(target, encoded(cards.csv_lines(rows)))
            click.echo(f"Written: {style.path_text(target)}")
        elif table:
            for text in cards.csv_lines(rows):
                click.echo(text, nl=False)
        else:
            shown = []
            for row in rows:
                click.echo(_lines_of(row))
                shown.append(row.about)
            count = len(shown)
            click.echo(f"{count} card{'' if count == 1 else 's'} outstanding.")
            if said := total(shown).sentence:
                click.echo(f"Declared: {style.plain(said)}.")
    click.echo(style.paragraph(cards.CAUTION, head="caution"), err=bool(table))
    return exits.ALL_AGREE


def _lines_of(row: Outstanding) -> str:
    piece = row.piece
    dates = [f"sealed {row.sealed}, {row.days} day{'' if row.days == 1 else 's'} ago"]
    if row.inquire_by:
        late = " (past)" if row.days > (row.inquire_by - row.sealed).days else ""
        dates.append(f"inquire by {row.inquire_by}{late}")
    dates.append(f"number free from {row.free_from}")
    return "\n".join(
        (
            f"{ledger_lines.number(piece.article)}  card {ledger_lines.number(piece.card)}",
            style.paragraph("; ".join(dates), head=f"entry {piece.sequence}"),
            *ledger_lines.about_lines(row.about),
        )
    )


def _write_pdf(
    target: Path,
    rows: list[Outstanding],
    looks: tuple[str, Path | None],
    sender: tuple[str, ...],
) -> None:
    from pairing.desk.inquiry_pdf import pdf  # noqa: PLC0415 - not for a list on the screen

    paper, font = looks
    today = datetime.now().astimezone().date()
    output.write_new(target, [pdf(rows, day=today, sender=sender, paper=paper, font=font)])
    count = f"{len(rows)} card{'' if len(rows) == 1 else 's'}"
    click.echo(f"Written: {style.path_text(target)} ({count})")

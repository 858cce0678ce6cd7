"""`counterfoil sample`: how many pieces to check, and which."""

from __future__ import annotations

import secrets
from collections.abc import Collection, Iterable
from datetime import date
from pathlib import Path

import click

from counterfoil import exits, options
from counterfoil.view import style
from pairing.audit.statistics import draws, sampling
from pairing.desk import dates


def _share(_: click.Context, parameter: click.Parameter, given: str) -> str:
    """A share as decimal text: `1%`, `0.01`."""
    text = given.strip()
    try:
        number = float(text.removesuffix("%")) / (100 if text.endswith("%") else 1)
    except ValueError:
        number = 0.0
    if not 0 < number < 1:
        raise click.BadParameter(f"{given!r} is no share; give 1% or 0.01.", param=parameter)
    return f"{number:.12f}".rstrip("0")


@click.command("sample")
@click.option("--lot", type=click.IntRange(min=1), help="Pieces in the lot; endless without it.")
@click.option(
    "--share",
    default="1%",
    show_default=True,
    callback=_share,
    metavar="P",
    help="At most this share of bad pairs is to be shown.",
)
@click.option(
    "--confidence",
    default="95%",
    show_default=True,
    callback=_share,
    metavar="C",
    help="How surely.",
)
@click.option(
    "--defects",
    "allowed",
    type=click.IntRange(min=0),
    default=0,
    show_default=True,
    help="Bad pieces that the sample may hold and still show it.",
)
@click.option("--aql", type=click.Choice(sampling.AQLS), help="The plan of ISO 2859-1 as well.")
@click.option(
    "--from",
    "source",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Draw from this list: a CSV file, or a piece a line.",
)
@click.option("--column", help="The column of --from that names the pieces.")
@click.option("--ledger", metavar="URL", help="Draw from the sealed pieces of this ledger.")
@click.option("--since", type=options.DAY, help="Of the ledger: from that day on.")
@click.option("--until", type=options.DAY, help="Of the ledger: up to and with that day.")
@click.option("--seed", help="Draw as was drawn with this seed; a new one by default.")
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE.json",
              help="Record the sample there; `counterfoil audit --sample` takes it.")  # fmt: skip
def command(  # noqa: PLR0913, PLR0917 - click hands every option over by name
    lot: int | None,
    share: str,
    confidence: str,
    allowed: int,
    aql: str | None,
    source: Path | None,
    column: str | None,
    ledger: str | None,
    since: date | None,
    until: date | None,
    seed: str | None,
    out: Path | None,
) -> int:
    """How many pieces to check so that, with the confidence given, at most that share of the
    lot's pairs is bad; and which ones.

    A piece that is not read counts as bad: plan for some, or look at them.
    """
    if sum(one is not None for one in (lot, source, ledger)) > 1:
        raise click.UsageError("Give one of --lot, --from and --ledger.")
    if out is not None and lot is None and source is None and ledger is None:
        raise click.UsageError("To draw, give --lot, --from or --ledger.")
    names = _names(lot, source, column, ledger, (since, until))
    count = None if names is None else len(names)
    if count == 0:
        click.echo("There is no piece to draw from.", err=True)
        return exits.NOT_DONE
    size = sampling.sample_size(share=share, confidence=confidence, lot=count, allowed=allowed)
    _tell_plan(size, count, share, confidence, allowed)
    if aql:
        _tell_aql(count, aql)
    if names is None or (out is None and source is None and ledger is None and seed is None):
        return exits.ALL_AGREE
    drawn = draws.draw_from(
        names,
        size=size,
        seed=seed or secrets.token_hex(8),
        share=share,
        confidence=confidence,
        allowed=allowed,
    )
    click.echo(f"Seed {drawn.seed}; SHA-256 of the list {drawn.list_sha256}.")
    if out is None:
        for name in drawn.pieces:
            click.echo(style.plain(name))
        return exits.ALL_AGREE
    draws.write(drawn, out)
    click.echo(f"What was drawn ({drawn.size:,} of {drawn.lot:,}) is in {style.path_text(out)}.")
    return exits.ALL_AGREE


def _names(
    lot: int | None,
    source: Path | None,
    column: str | None,
    ledger: str | None,
    days: tuple[date | None, date | None],
) -> Collection[str] | None:
    if lot is not None:
        return draws.Numbered(lot)
    names: Iterable[str]
    if source is not None:
        names = draws.names_in(source, column)
    elif ledger is not None:
        names = _in_ledger(ledger, days)
    else:
        return None
    return draws.distinct(names)


def _in_ledger(url: str, days: tuple[date | None, date | None]) -> list[str]:
    from pairing.ledger import Ledger, State  # noqa: PLC0415 - a database only where asked for

    first, last = days  # the desk's, as everywhere
    since = dates.span(first)[0] if first else None
    until = dates.span(last)[1] if last else None
    with Ledger.open(url) as ledger:
        found = ledger.pieces(states=(State.OPEN, State.RETURNED), since=since, until=until)
        return [piece.article for piece in found if piece.article]


def _tell_plan(size: int, lot: int | None, share: str, confidence: str, allowed: int) -> None:
    of_lot = f" of {lot:,}" if lot else ""
    pieces = "piece" if size == 1 else "pieces"
    found = "no bad one" if allowed == 0 else f"at most {allowed} bad"
    click.echo(
        f"Check {size:,} {pieces}{of_lot}. With {found} among them, at most {_percent(share)} "
        f"of the pairs are bad, with {_percent(confidence)} confidence."
    )


def _tell_aql(lot: int | None, aql: str) -> None:
    if lot is None or lot < 2:
        raise click.UsageError("--aql needs a lot of two pieces or more.")
    plan = sampling.aql_plan(lot, aql)
    arrow = "" if plan.letter == plan.used else f" (the table's arrow leads to {plan.used})"
    click.echo(
        f"ISO 2859-1, level II, normal: letter {plan.letter}{arrow}, {plan.size} pieces, AQL "
        f"{aql} %: accept with {plan.accept} bad, refuse with {plan.reject}."
    )
    click.echo(
        style.paragraph(
            f"A lot in which {_percent('0.02')} are bad passes this with a chance of "
            f"{100 * plan.chance_to_pass(0.02):.0f} %: such plans let a few errors through, which "
            "does not suit proof of service.",
            head="note",
        )
    )


def _percent(share: str) -> str:
    return f"{float(share) * 100:g} %"

"""`counterfoil sample`: how many pieces to check, and which."""

from __future__ import annotations

import secrets
from collections.abc import Collection, Iterator
from datetime import date, datetime
from pathlib import Path
from typing import Any

import click

from counterfoil import drawing, exits, options
from counterfoil.view import style
from pairing.audit.statistics import draws, sampling
from pairing.audit.statistics.piece_lists import Listed, pieces_in
from pairing.desk import dates


def _share(_: click.Context, parameter: click.Parameter, given: str) -> str:
    """A share as decimal text: `1%`, `0.01`."""
    text = given.strip()
    try:
        number = float(text.removesuffix("%")) / (100 if text.endswith("%") else 1)
    except ValueError:
        number = 0.0
    if not 0 < number < 1:
        raise click.BadParameter(f"{given!r} is not a share; give 1% or 0.01.", param=parameter)
    return f"{number:.12f}".rstrip("0")


def _share_or_none(
    context: click.Context, parameter: click.Parameter, given: str | None
) -> str | None:
    return None if given is None else _share(context, parameter, given)


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
    help="How sure the answer must be.",
)
@click.option(
    "--defects",
    "allowed",
    type=click.IntRange(min=0),
    default=0,
    show_default=True,
    help="Bad pieces that the sample may hold and still show it.",
)
@click.option(
    "--expected",
    callback=_share_or_none,
    metavar="P",
    help="The share of bad pairs that is expected: the sample is planned to allow for it.",
)
@click.option("--two-stage", is_flag=True,
              help="Two samples fixed beforehand; the second only where the first does not "
              "decide.")  # fmt: skip
@click.option("--systematic", is_flag=True,
              help="At equal steps down the list, from a random start.")  # fmt: skip
@click.option("--strata", metavar="COLUMN",
              help="Draw from each desk, day or operator in proportion: a column of --from, or of "
              "a ledger desk, day or operator.")  # fmt: skip
@click.option("--value", metavar="COLUMN",
              help="Draw by value, from this column of --from: what is shown is a share of "
              "the value.")  # fmt: skip
@click.option("--spares", type=click.IntRange(min=0), default=0, show_default=True,
              help="Pieces drawn beyond these, to stand in for void ones (of each "
              "stratum).")  # fmt: skip
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
def command(**options: Any) -> int:
    """How many pieces to check so that, with the confidence given, at most that share of the
    lot's pairs is bad; and which ones.

    A piece that is not read counts as bad: plan for some, or look at them.
    """
    given = drawing.SampleOptions(**options)
    drawing.refuse_contradictions(given)
    names = _listed(given)
    count = None if names is None else len(names)
    if count == 0:
        click.echo("There is no piece to draw from.", err=True)
        return exits.NOT_DONE
    planned = drawing.planned(given, names)
    for line in drawing.in_words(given, planned, count):
        click.echo(line)
    if given.aql:
        _tell_aql(count, given.aql)
    is_listed = given.source is not None or given.ledger is not None
    if names is None or not (given.out or given.seed or is_listed):
        return exits.ALL_AGREE
    drawn = drawing.drawn(given, planned, names, seed=given.seed or secrets.token_hex(8))
    click.echo(f"Seed {drawn.seed}; SHA-256 of the list {drawn.list_sha256}.")
    if given.out is None:
        for name in drawn.pieces:
            click.echo(style.plain(name))
        _tell_rest("the second stage", drawn.second)
        spares = (*drawn.spares, *(name for one in drawn.strata for name in one.spares))
        _tell_rest("spares, in this order", spares)
        return exits.ALL_AGREE
    draws.write(drawn, given.out)
    many = len(drawn.pieces) + len(drawn.second)
    click.echo(f"What was drawn ({many:,} of {drawn.lot:,}) is in {style.path_text(given.out)}.")
    return exits.ALL_AGREE


def _tell_rest(what: str, names: Collection[str]) -> None:
    if names:
        click.echo(f"And for {what}:")
    for name in names:
        click.echo(style.plain(name))


def _listed(given: drawing.SampleOptions) -> Collection[Listed] | draws.Numbered | None:
    if given.lot is not None:
        return draws.Numbered(given.lot)
    if given.source is not None:
        found = pieces_in(given.source, given.column, stratum=given.strata, value=given.value)
    elif given.ledger is not None:
        found = _in_ledger(given.ledger, (given.since, given.until), given.strata)
    else:
        return None
    return list({one.name: one for one in found}.values())


def _in_ledger(
    url: str, days: tuple[date | None, date | None], stratum: str | None
) -> Iterator[Listed]:
    from pairing.ledger import Ledger, State  # noqa: PLC0415 - a database only where asked for

    first, last = days  # the desk's, as everywhere
    since = dates.span(first)[0] if first else None
    until = dates.span(last)[1] if last else None
    with Ledger.open(url, must_exist=True) as ledger:
        found = ledger.pieces(states=(State.OPEN, State.RETURNED), since=since, until=until)
        for piece in found:
            if piece.article:
                kinds = {
                    "desk": piece.first.desk,
                    "operator": piece.first.operator,
                    "day": dates.day_of(datetime.fromisoformat(piece.first.at)).isoformat(),
                }
                yield Listed(name=piece.article, stratum=kinds.get(stratum or "", ""))


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
            f"A lot in which {drawing.percent('0.02')} are bad passes this with a chance of "
            f"{100 * plan.chance_to_pass(0.02):.0f} %: such plans let a few errors through, which "
            "does not suit proof of service.",
            head="note",
        )
    )

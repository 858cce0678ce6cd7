"""`counterfoil ledger find`: pieces by a name, a reference, a number, or a part of one."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from itertools import islice

import click

from counterfoil import exits, options
from counterfoil.opening import existing
from counterfoil.view import ledger_lines
from pairing.ledger import Hit

_STATES = {
    **{word: state.value for state, word in ledger_lines.STATES.items()},
    "stopped": "stopped",
    "expected": "expected",
}
_MANY = 5_000
"""So many entries are taken into the index in a moment."""


@click.command("find")
@click.argument("text", nargs=-1, required=True)
@click.option(
    "--state",
    "states",
    multiple=True,
    type=click.Choice(list(_STATES)),
    help="Only those; sealed: the card has not come back. May be given again.",
)
@click.option("--most", metavar="N", type=click.IntRange(1), default=20, show_default=True)
@options.as_json
@options.ledger
def command(
    text: tuple[str, ...], states: tuple[str, ...], most: int, as_json: bool, ledger_url: str | None
) -> int:
    """Find pieces by TEXT: a name, the office's own reference, a number, or a part of one.

    The youngest come first. Every word has to be there; capitals and accents do not count.
    Nothing is found of what was erased. Exit code 0 if something is found, 11 if not.
    """
    with existing(ledger_url) as opened:
        hits = opened.find(" ".join(text), progress=_progress)
        chosen = {_STATES[one] for one in states}
        wanted = (hit for hit in hits if not chosen or hit.state in chosen)
        found = list(islice(wanted, most + 1))
    for hit in found[:most]:
        for line in [_json(hit)] if as_json else _lines(hit):
            click.echo(line)
    if len(found) > most:
        click.echo(f"There are more than {most}; --most shows more.", err=True)
    if not found:
        click.echo("Nothing was found.", err=True)
    return exits.ALL_AGREE if found else exits.UNREAD


def _progress(done: int, size: int) -> None:
    if size - done > _MANY and sys.stderr.isatty():
        click.echo(f"Taking entries into the index: {done} of {size}", err=True)


def _lines(hit: Hit) -> Iterator[str]:
    yield f"{ledger_lines.number(hit.article)}  card {ledger_lines.number(hit.card)}"
    yield ledger_lines.hit_line(hit)
    yield from ledger_lines.about_lines(hit.about)


def _json(hit: Hit) -> str:
    members = {
        "about": dict(hit.about),
        "article": hit.article,
        "at": hit.entry.at,
        "card": hit.card,
        "entry": hit.entry.sequence,
        "state": hit.state,
    }
    return json.dumps(members, ensure_ascii=True)

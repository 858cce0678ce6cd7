"""`counterfoil ledger list`: pieces or entries, one a line."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import click

from counterfoil import exits, options
from counterfoil.opening import existing
from counterfoil.view import ledger_lines
from pairing.desk import dates
from pairing.desk.unsettled import unsettled
from pairing.ledger import Entry, Kind, Ledger, Piece, State
from pairing.ledger.entries import members

_BY_WORD = {
    **{word: state for state, word in ledger_lines.STATES.items()},
    **{state.value: state for state in State},
}
"""The words for states: those that are shown, and those that the ledger stores."""
_KINDS = {"sealed": Kind.PAIRED, **{kind.value: kind for kind in Kind}}
"""The words for kinds of entries, likewise: a sealed piece is stored as `paired`."""
_SHOWN_KINDS = ("sealed", *(kind.value for kind in Kind if kind is not Kind.PAIRED))


def _states(_: click.Context, __: click.Parameter, given: tuple[str, ...]) -> tuple[State, ...]:
    unknown = next((word for word in given if word not in _BY_WORD), None)
    if unknown is not None:
        raise click.BadParameter(f"{unknown!r} is not one of sealed, returned, voided.")
    return tuple(_BY_WORD[word] for word in given)


def _kinds(_: click.Context, __: click.Parameter, given: tuple[str, ...]) -> tuple[Kind, ...]:
    unknown = next((word for word in given if word not in _KINDS), None)
    if unknown is not None:
        raise click.BadParameter(f"{unknown!r} is not one of {', '.join(_SHOWN_KINDS)}.")
    return tuple(_KINDS[word] for word in given)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """Which of them are listed, and how."""

    since: datetime | None
    until: datetime | None
    desk: str | None
    as_json: bool


@click.command("list")
@click.option("--day", type=options.DAY, help="Of that day: 2026-11-25, today, yesterday.")
@click.option("--since", type=options.DAY, help="From that day on.")
@click.option("--until", type=options.DAY, help="Up to and with that day.")
@click.option(
    "--state",
    "states",
    multiple=True,
    metavar="sealed|returned|voided",
    callback=_states,
    help="Pieces in that state. May be given again.",
)
@click.option("--desk", metavar="NAME", help="Of that desk.")
@click.option(
    "--stopped",
    "is_stopped",
    is_flag=True,
    help="Pieces that were stopped and are not settled: not sealed since, nothing said of them.",
)
@click.option("--entries", is_flag=True, help="Every entry, not pieces as they are now.")
@click.option(
    "--kind",
    "kinds",
    multiple=True,
    metavar="|".join(_SHOWN_KINDS),
    callback=_kinds,
    help="Entries of that kind, such as stopped. May be given again.",
)
@options.as_json
@options.ledger
def command(  # noqa: PLR0913, PLR0917 - click hands every option over by name
    day: date | None,
    since: date | None,
    until: date | None,
    states: tuple[State, ...],
    desk: str | None,
    is_stopped: bool,
    entries: bool,
    kinds: tuple[Kind, ...],
    as_json: bool,
    ledger_url: str | None,
) -> int:
    """List sealed pieces as they are now, or with --entries what was recorded.
    --stopped lists what nobody sealed and nobody settled (`settled 12 HOW` at the counter).

    Times are those of this machine's time zone. --json gives one JSON object a line, with
    times in UTC.
    """
    if day and (since or until):
        raise click.UsageError("Give --day, or --since and --until.")
    if states and (entries or kinds):
        raise click.UsageError("--state goes with pieces, not with --entries or --kind.")
    if is_stopped and (states or entries or kinds):
        raise click.UsageError("--stopped goes alone, with days and --desk.")
    begin, end = _span(day or since, day or until)
    asked = _Asked(since=begin, until=end, desk=desk, as_json=as_json)
    count = 0
    with existing(ledger_url) as opened:
        if is_stopped:
            lines = _stopped(opened, asked)
        elif entries or kinds:
            lines = _entries(opened, kinds, asked)
        else:
            lines = _pieces(opened, states, asked)
        for line in lines:
            click.echo(line)
            count += 1
    if not as_json:
        what = "entr" if entries or kinds else "piece"
        plural = {"entr": ("y", "ies"), "piece": ("", "s")}[what][count != 1]
        click.echo(f"{count} {what}{plural}", err=True)
    return exits.ALL_AGREE


def _span(first: date | None, last: date | None) -> tuple[datetime | None, datetime | None]:
    return (
        dates.span(first)[0] if first else None,
        dates.span(last)[1] if last else None,
    )


def _pieces(ledger: Ledger, states: tuple[State, ...], asked: _Asked) -> Iterator[str]:
    for piece in ledger.pieces(states=states, since=asked.since, until=asked.until):
        if asked.desk in (None, piece.first.desk):
            yield (_json(piece_members(piece)) if asked.as_json else ledger_lines.piece_line(piece))


def _stopped(ledger: Ledger, asked: _Asked) -> Iterator[str]:
    for entry in unsettled(ledger, since=asked.since, until=asked.until):
        if asked.desk in (None, entry.desk):
            yield _json(members(entry)) if asked.as_json else ledger_lines.stop_line(entry)


def _entries(ledger: Ledger, kinds: tuple[Kind, ...], asked: _Asked) -> Iterator[str]:
    for entry in ledger.entries(kinds=kinds, since=asked.since, until=asked.until):
        if asked.desk in (None, entry.desk):
            yield _json(members(entry)) if asked.as_json else ledger_lines.entry_line(entry)


def piece_members(piece: Piece) -> dict[str, Any]:
    """A piece as it is now, as JSON members; `state` is as it is stored."""
    return {
        "accepted": _accepted(piece.first),
        "article": piece.article,
        "card": piece.card,
        "contradicted_by": piece.contradicted.sequence if piece.contradicted else None,
        "desk": piece.first.desk,
        "entry": piece.sequence,
        "history": list(piece.history),
        "operator": piece.first.operator,
        "returned": [_accepted(one) for one in piece.returns],
        "state": piece.state.value,
    }


def _accepted(entry: Entry) -> str:
    return entry.at


def _json(value: dict[str, Any]) -> str:
    return json.dumps(value, ensure_ascii=True)

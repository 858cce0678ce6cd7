"""Options that several commands share."""

from __future__ import annotations

import getpass
import os
import platform
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import click

from pairing.judge.fields import SETTABLE_ON_RETURN


def _checked_gs(_: click.Context, __: click.Parameter, given: tuple[str, ...]) -> tuple[str, ...]:
    for text in given:
        if not text or text.isalnum():
            raise click.BadParameter(
                f"{text!r} could be part of a number; name something with a sign in it."
            )
    return given


gs: Callable[[Callable[..., Any]], Callable[..., Any]] = click.option(
    "--gs",
    multiple=True,
    metavar="TEXT",
    callback=_checked_gs,
    help="What the scanner sends in place of the group separator, such as '<GS>'.",
)

ledger: Callable[[Callable[..., Any]], Callable[..., Any]] = click.option(
    "--ledger",
    "ledger_url",
    metavar="URL",
    help="The ledger: a file, or postgresql://...; by default what COUNTERFOIL_LEDGER says, "
    "else the user's own file.",
)
"""Give it to `Ledger.open`, which knows the environment variable and the user's own file."""


def this_desk() -> str:
    """The desk's name where no option gives it."""
    return os.environ.get("COUNTERFOIL_DESK") or platform.node() or "desk"


def _user() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):
        return "operator"


desk: Callable[[Callable[..., Any]], Callable[..., Any]] = click.option(
    "--desk",
    metavar="NAME",
    default=this_desk,
    show_default="COUNTERFOIL_DESK, else this machine's name",
    help="The desk that is recorded.",
)

operator: Callable[[Callable[..., Any]], Callable[..., Any]] = click.option(
    "--operator",
    metavar="NAME",
    default=lambda: os.environ.get("COUNTERFOIL_OPERATOR") or _user(),
    show_default="COUNTERFOIL_OPERATOR, else your user name",
    help="Who is recorded as having done it.",
)


def files(name: str, into: str, what: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """An option that takes a file each time it is given; into: the parameter with all of them."""
    return click.option(
        name,
        into,
        multiple=True,
        type=click.Path(path_type=Path),
        metavar="FILE",
        help=f"{what} May be given again.",
    )


as_json: Callable[[Callable[..., Any]], Callable[..., Any]] = click.option(
    "--json", "as_json", is_flag=True, help="Write JSON to standard output."
)


class _Day(click.ParamType):  # type: ignore[type-arg, unused-ignore] # generic in newer versions of click
    """A day: 2026-11-25, today or yesterday, in this machine's time zone."""

    name = "day"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        if isinstance(value, date):
            return value
        today = datetime.now().astimezone().date()
        words = {"today": today, "yesterday": today - timedelta(days=1)}
        try:
            day = words.get(value.strip().lower()) or date.fromisoformat(value.strip())
        except ValueError:
            self.fail(f"{value!r} is not a day; write it as 2026-11-25, today or yesterday.")
        if not _FIRST_YEAR <= day.year <= _LAST_YEAR:
            self.fail(f"{value!r} is not of this age.")
        return day


_FIRST_YEAR, _LAST_YEAR = 1970, 2999

DAY = _Day()

sender: Callable[[Callable[..., Any]], Callable[..., Any]] = click.option(
    "--sender",
    metavar="TEXT",
    envvar="COUNTERFOIL_SENDER",
    default="",
    help="The sender's name and address, its lines separated by ';'. Also COUNTERFOIL_SENDER.",
)
font: Callable[[Callable[..., Any]], Callable[..., Any]] = click.option(
    "--font",
    type=click.Path(path_type=Path),
    metavar="FILE.ttf",
    help="For names in letters that the built-in font lacks.",
)

MOST_SENDER = 5
"""Lines of a sender's name and address that a list has room for."""


def sender_lines(sender: str) -> tuple[str, ...]:
    """The lines of the sender's name and address."""
    lines = tuple(" ".join(part.split()) for part in sender.split(";") if part.strip())
    if len(lines) > MOST_SENDER:
        raise click.UsageError(f"--sender has {len(lines)} lines; there is room for {MOST_SENDER}.")
    return lines


ask_kind: Callable[[Callable[..., Any]], Callable[..., Any]] = click.option(
    "--ask-kind",
    "asks_kind",
    is_flag=True,
    help="Ask of each piece once whether it is a letter (up to 1/4 inch thick), a flat (up to 3/4) "
    "or a parcel.",
)
only_notes: Callable[[Callable[..., Any]], Callable[..., Any]] = click.option(
    "--only-note",
    "only_notes",
    multiple=True,
    type=click.Choice([str(code) for code in SETTABLE_ON_RETURN]),
    help="Take this of a returned card as a note; without it the card is not in order.",
)
ask_for_whom: Callable[[Callable[..., Any]], Callable[..., Any]] = click.option(
    "--ask",
    "asked",
    type=click.Choice(("never", "before", "after")),
    default="never",
    show_default=True,
    help="Ask for whom a piece is: when its label comes, or once it is sealed. It is sealed "
    "whether it is answered or not; names can be erased (ledger forget).",
)

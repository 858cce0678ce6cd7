"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click


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

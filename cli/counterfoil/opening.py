"""Opening a ledger that is there, and saying what is wrong with it before anything else."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import click

from counterfoil.view import style
from pairing.ledger import Ledger


def tell_of_confinement() -> None:
    """Say, once a command, where what opens photos may do more than read them."""
    from pairing.photos.confinement import trouble  # noqa: PLC0415 - decoders are heavy

    if said := trouble():
        click.echo(f"{said}. Open only photos that you trust.", err=True)


@contextmanager
def existing(url: str | None) -> Iterator[Ledger]:
    """The ledger at `url`, which must exist. What can be said without a walk (a lost end, a
    clock set back) goes to standard error. Raises LedgerUnusable."""
    with Ledger.open(url, must_exist=True) as ledger:
        for finding in ledger.warnings():
            click.echo(style.finding_line(finding), err=True)
        yield ledger

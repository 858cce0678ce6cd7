"""Opening a ledger that is there or a cluster, and saying what is wrong before anything else."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from typing import TYPE_CHECKING

import click

from counterfoil.view import style

if TYPE_CHECKING:
    from pairing.audit.run.job import Engine
    from pairing.audit.run.sources import Source
    from pairing.ledger import Ledger


def tell_of_confinement() -> None:
    """Say, once a command, where what opens photos may do more than read them."""
    from pairing.photos.confinement import trouble  # noqa: PLC0415 - decoders are heavy

    if said := trouble():
        click.echo(f"{said}. Open only photos that you trust.", err=True)


def cluster_engine(address: str, held: ExitStack, source: Source) -> Engine:
    """What reads the source's photos on a Dask cluster, connected as long as `held` is open."""
    from pairing.audit.run.cluster import Cluster  # noqa: PLC0415 - an extra

    cluster = held.enter_context(Cluster(address, **source.reading))
    for name in ("distributed", "distributed.client"):  # what goes wrong is told by ourselves
        logging.getLogger(name).setLevel(logging.CRITICAL)
    for said in cluster.troubles():
        click.echo(f"On workers of the cluster: {said}. Read only photos that you trust.", err=True)
    return cluster.run


@contextmanager
def existing(url: str | None) -> Iterator[Ledger]:
    """The ledger at `url`, which must exist. What can be said without a walk (a lost end, a
    clock set back) goes to standard error. Raises LedgerUnusable."""
    from pairing.ledger import Ledger  # noqa: PLC0415 - heavy, and `photos` has none

    with Ledger.open(url, must_exist=True) as ledger:
        for finding in ledger.warnings():
            click.echo(style.finding_line(finding), err=True)
        yield ledger

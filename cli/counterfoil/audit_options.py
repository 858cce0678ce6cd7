"""What `counterfoil audit` was called with, and which options exclude each other."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

import click


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditOptions:
    """What the command was called with; each option's help says what it means."""

    place: str
    out: Path
    unsorted: bool
    table: Path | None
    expected: Path | None
    ledger_url: str | None
    since: date | None
    until: date | None
    strictness: str
    sample: Path | None
    void: Path | None
    lot: int | None
    confidence: float
    decisions: Path | None
    record: bool
    desk: str
    operator: str
    sheets: tuple[str, ...]
    crops: tuple[str, ...]
    as_csv: bool
    as_parquet: bool
    no_report: bool
    results_url: str | None
    run_name: str | None
    rereads: bool
    workers: int | None
    cluster: str | None


def refuse_contradictions(given: AuditOptions) -> None:
    """Raises click.UsageError where two options cannot both be meant."""
    if given.unsorted and given.table:
        raise click.UsageError("--unsorted and --pieces contradict each other.")
    if given.lot and given.sample:
        raise click.UsageError("--sample knows its lot; leave --lot out.")
    if given.void and not given.sample:
        raise click.UsageError("--void needs --sample.")
    if given.record and not given.ledger_url:
        raise click.UsageError("--record needs --ledger.")
    if given.run_name and not given.results_url:
        raise click.UsageError("--run needs --results.")
    if given.table and "://" in given.place:
        raise click.UsageError("--pieces needs a folder.")

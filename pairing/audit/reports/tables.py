"""The rows for those who take them elsewhere: CSV, and Parquet where pyarrow is installed."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from pairing import csv_tables, output
from pairing.audit.run.rows import Row
from pairing.csv_tables import grouped, harmless
from pairing.errors import EngineMissing
from pairing.model import Verdict

_BATCH = 2000


def write_csv(rows: Iterable[Row], target: Path) -> None:
    """RFC 4180 with line feeds, UTF-8. Numbers are written in their printed groups, so that a
    spreadsheet does not round 22 digits to 15. Raises OutputRefused."""
    lines = csv_tables.table(csv_tables.AUDIT, map(_cells, rows))
    output.replace(target, csv_tables.encoded(lines))


def _cells(row: Row) -> Iterator[Any]:
    """A row as cells; only texts can be taken for formulas."""
    for name, value in flat(row).items():
        if name in ("article", "card", "written"):
            yield grouped(value)
        else:
            yield harmless(value) if isinstance(value, str) else value


def write_parquet(rows: Iterable[Row], target: Path) -> None:
    """The same columns as text and numbers; numbers of pieces without blanks. Raises
    EngineMissing without pyarrow, OutputRefused."""
    require_parquet(target)
    import pyarrow as pa  # noqa: PLC0415 - an extra
    import pyarrow.parquet as pq  # noqa: PLC0415

    numbers = {
        "ledger_entry": pa.int64(),
        "match_log_odds": pa.float64(),
        "match_margin_log_odds": pa.float64(),
    }
    schema = pa.schema([(name, numbers.get(name, pa.string())) for name in csv_tables.AUDIT])
    with output.replacing(target) as file, pq.ParquetWriter(file, schema) as table:
        for batch in _batches(map(flat, rows)):
            table.write_table(pa.Table.from_pylist(batch, schema=schema))


def require_parquet(target: Path) -> None:
    """Raise EngineMissing without pyarrow."""
    if find_spec("pyarrow") is None:
        raise EngineMissing(
            "Parquet needs the package pyarrow",
            where=os.fspath(target),
            remedy="Run pip install '.[parquet]' in Counterfoil's folder, or take --csv.",
        )


def flat(row: Row) -> dict[str, Any]:
    """A row as one line of `csv_tables.AUDIT`; None where there is nothing."""
    match, record, review = row.match, row.record, row.review
    positions = row.difference.positions if row.difference else ()
    return {
        "piece": row.piece,
        "verdict": row.verdict.value,
        "after_review": row.standing.value,
        "article": row.article,
        "card": row.card,
        "written": row.written,
        "written_by": row.written_by.value if row.written_by else None,
        "error": row.error if row.verdict is Verdict.DIFFERS else None,
        "positions": ";".join(map(str, positions)) or None,
        "findings": ";".join(finding.code for finding in row.findings) or None,
        "desk": row.desk or None,
        "day": row.day or None,
        "recorded": record.state.value if record else None,
        "ledger_entry": record.entry if record else None,
        "match_log_odds": match.log_odds if match else None,
        "match_margin_log_odds": match.margin_log_odds if match else None,
        "review": review.decision if review else None,
        "note": review.note or None if review else None,
        "photos": ";".join(photo.photo for photo in row.photos),
        "sha256": ";".join(row.hashes),
    }


def _batches(rows: Iterable[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    batch: list[dict[str, Any]] = []
    for row in rows:
        batch.append(row)
        if len(batch) == _BATCH:
            yield batch
            batch = []
    if batch:
        yield batch

"""The rows for those who take them elsewhere: CSV, and Parquet where pyarrow is installed."""

from __future__ import annotations

import csv
import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from pairing.audit.run.rows import Row
from pairing.cells import harmless
from pairing.errors import EngineMissing, OutputRefused
from pairing.model import Verdict
from pairing.numbers import printed

COLUMNS = (
    "piece", "verdict", "after_review", "article", "card", "written", "written_by", "error",
    "positions", "findings", "desk", "day", "recorded", "ledger_entry", "match_log_odds",
    "match_margin_log_odds", "review", "note", "photos", "sha256",
)  # fmt: skip
"""One line for each piece; several values in one cell are separated by semicolons."""

_BATCH = 2000


def write_csv(rows: Iterable[Row], target: Path) -> None:
    """RFC 4180 with line feeds, UTF-8. Numbers are written in their printed groups, so that a
    spreadsheet does not round 22 digits to 15. Raises OutputRefused."""
    with _drafted(target) as draft, draft.open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(COLUMNS)
        for row in rows:
            cells = flat(row)
            for name in ("article", "card", "written"):
                cells[name] = printed(cells[name]) if cells[name] else None
            table.writerow(_harmless(cells[name]) for name in COLUMNS)


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
    schema = pa.schema([(name, numbers.get(name, pa.string())) for name in COLUMNS])
    with _drafted(target) as draft, pq.ParquetWriter(draft, schema) as file:
        for batch in _batches(map(flat, rows)):
            file.write_table(pa.Table.from_pylist(batch, schema=schema))


def require_parquet(target: Path) -> None:
    """Raise EngineMissing without pyarrow."""
    if find_spec("pyarrow") is None:
        raise EngineMissing(
            "Parquet needs the package pyarrow",
            where=os.fspath(target),
            remedy="Run pip install '.[parquet]' in Counterfoil's folder, or take --csv.",
        )


def flat(row: Row) -> dict[str, Any]:
    """A row as one line of `COLUMNS`; None where there is nothing."""
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


@contextmanager
def _drafted(target: Path) -> Iterator[Path]:
    """A file beside the target that takes its place when it is whole."""
    draft = target.with_name(target.name + ".part")
    try:
        yield draft
        draft.replace(target)
    except OSError as error:
        raise OutputRefused(
            f"The table cannot be written ({error.strerror or error})",
            where=os.fspath(target),
            remedy="Make room, or name a file in another folder.",
        ) from error


def _batches(rows: Iterable[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    batch: list[dict[str, Any]] = []
    for row in rows:
        batch.append(row)
        if len(batch) == _BATCH:
            yield batch
            batch = []
    if batch:
        yield batch


def _harmless(cell: Any) -> Any:
    """A cell that no spreadsheet takes for a formula; only texts can be taken for one."""
    return harmless(cell) if isinstance(cell, str) else cell

"""The rows for those who take them elsewhere: CSV, and Parquet where pyarrow is installed."""

from __future__ import annotations

import csv
import os
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from pairing.audit.statistics.summary import kind_of, standing
from pairing.cells import harmless
from pairing.errors import EngineMissing, OutputRefused
from pairing.model import Verdict
from pairing.numbers import printed

COLUMNS = (
    "piece", "verdict", "after_review", "article", "card", "written", "written_by", "error",
    "positions", "findings", "desk", "day", "recorded", "ledger_entry", "match_log_odds",
    "match_margin_log_odds", "review", "note", "photos", "sha256",
)  # fmt: skip
"""One line a piece; several values in one cell are parted by semicolons."""

_BATCH = 2000


def write_csv(rows: Iterable[Mapping[str, Any]], target: Path) -> None:
    """RFC 4180 with line feeds, UTF-8. Numbers stand in their printed groups, so that a
    spreadsheet does not round 22 digits to 15. Raises OutputRefused."""
    with _drafted(target) as draft, draft.open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(COLUMNS)
        for row in rows:
            cells = flat(row)
            for name in ("article", "card", "written"):
                cells[name] = printed(cells[name]) if cells[name] else None
            table.writerow(_harmless(cells[name]) for name in COLUMNS)


def write_parquet(rows: Iterable[Mapping[str, Any]], target: Path) -> None:
    """The same columns as text and numbers; numbers of pieces without blanks. Raises
    EngineMissing without pyarrow, OutputRefused."""
    try:
        import pyarrow as pa  # noqa: PLC0415 - an extra
        import pyarrow.parquet as pq  # noqa: PLC0415
    except ImportError as error:
        raise EngineMissing(
            "Parquet needs the package pyarrow",
            where=os.fspath(target),
            remedy="Run pip install '.[parquet]' in Counterfoil's folder, or take --csv.",
        ) from error
    numbers = {
        "ledger_entry": pa.int64(),
        "match_log_odds": pa.float64(),
        "match_margin_log_odds": pa.float64(),
    }
    schema = pa.schema([(name, numbers.get(name, pa.string())) for name in COLUMNS])
    with _drafted(target) as draft, pq.ParquetWriter(draft, schema) as file:
        for batch in _batches(map(flat, rows)):
            file.write_table(pa.Table.from_pylist(batch, schema=schema))


def flat(row: Mapping[str, Any]) -> dict[str, Any]:
    """A row as one line of `COLUMNS`; None where there is nothing."""
    match, record, review = row["match"] or {}, row["record"] or {}, row["review"] or {}
    differs = row["verdict"] == Verdict.DIFFERS.value
    positions = (row["difference"] or {}).get("positions", ())
    return {
        "piece": row["piece"],
        "verdict": row["verdict"],
        "after_review": standing(row),
        "article": row["article"],
        "card": row["card"],
        "written": row["written"],
        "written_by": row["written_by"],
        "error": kind_of(row) if differs else None,
        "positions": ";".join(map(str, positions)) or None,
        "findings": ";".join(finding["code"] for finding in row["findings"]) or None,
        "desk": row["desk"] or None,
        "day": row["day"] or None,
        "recorded": record.get("state"),
        "ledger_entry": record.get("entry"),
        "match_log_odds": match.get("log_odds"),
        "match_margin_log_odds": match.get("margin_log_odds"),
        "review": review.get("decision"),
        "note": review.get("note") or None,
        "photos": ";".join(photo["photo"] for photo in row["photos"]),
        "sha256": ";".join(photo["sha256"] or "" for photo in row["photos"]),
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

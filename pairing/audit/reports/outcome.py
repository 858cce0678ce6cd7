"""What a finished run leaves behind beside its rows: summary, report, tables, sheets."""

from __future__ import annotations

import csv
import json
from collections.abc import Collection, Iterable, Iterator, Set
from dataclasses import dataclass
from pathlib import Path

import msgspec

from pairing import csv_tables, output
from pairing.audit.reports import (
    crop_files,
    crops,
    evidence_sheet,
    front,
    page,
    sheet_words,
    tables,
)
from pairing.audit.reports.crops import Cutter
from pairing.audit.run import review
from pairing.audit.run.job import Engine, Progress
from pairing.audit.run.lot import ROWS
from pairing.audit.run.records import Missing, Records
from pairing.audit.run.rows import Row, rows_in, write_rows
from pairing.audit.run.run_store import Store
from pairing.audit.run.sources import Source
from pairing.audit.statistics import earlier_samples
from pairing.audit.statistics.draws import Drawn
from pairing.audit.statistics.reader_rates import rates
from pairing.audit.statistics.summary import (
    Conclusion,
    Summary,
    as_members,
    conclude,
    with_warning,
)
from pairing.csv_tables import grouped, harmless
from pairing.errors import ProofUnusable, TableUnusable
from pairing.ledger import Ledger, ProofCheck, check_proof
from pairing.model import Verdict

SUMMARY, REPORT, MISSING = "summary.json", "report.html", "missing.csv"
MOST_CROPS = 2000
"""Pieces with pictures in the report: some 25 MB. The rest is listed without."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportJob:
    """What is asked of a finished run. store: the run's, open. lot: pieces in the whole lot.
    void: drawn pieces that were never mailed. title, made: for people."""

    out: Path
    store: Store
    source: Source
    title: str
    made: str
    confidence: float = 0.95
    lot: int | None = None
    sample: Drawn | None = None
    void: Set[str] = frozenset()
    strictness: str = "1e-4"
    csv: bool = False
    parquet: bool = False


def summarize(job: ReportJob, records: Records) -> tuple[Summary, Conclusion | None, int]:
    """Count the rows; write the summary and what was never photographed."""
    summary = Summary()
    sample = job.sample.names if job.sample else frozenset()
    photographed: set[str] = set()
    keeps = records.ledger is not None or bool(records.pairs)
    for row in rows_in(job.out / ROWS):
        summary.add(row, sample)
        if keeps and row.article:
            photographed.add(row.article)
    missing = _write_missing(job.out / MISSING, records.missing(photographed))
    found = conclude(
        summary,
        confidence=job.confidence,
        lot=job.lot,
        sample=job.sample,
        strictness=job.strictness,
        void=job.void,
    )
    if job.sample and found and found.aim:
        earlier = earlier_samples.note(job.out, job.sample, found.aim)
        found = with_warning(found, earlier_samples.in_words(earlier, job.sample))
    members = as_members(summary, found, missing=missing)
    output.replace(job.out / SUMMARY, [f"{json.dumps(members, indent=1)}\n".encode()])
    return summary, found, missing


def report(  # noqa: PLR0913 - what was counted, and how pictures are cut
    job: ReportJob,
    summary: Summary,
    found: Conclusion | None,
    missing: int,
    *,
    engine: Engine,
    progress: Progress,
) -> Path:
    """Cut the pictures that are not there yet, and write the report; its path."""
    total = min(MOST_CROPS, summary.pieces - summary.verdicts[Verdict.AGREES.value])
    cutter = Cutter(source=job.source, engine=engine, progress=progress, total=total)
    crops.keep(_first(_gravest(job.out / ROWS), MOST_CROPS), job.store, cutter)
    above = front.Front(
        title=job.title,
        made=job.made,
        summary=summary,
        conclusion=found,
        missing=tuple(_first_missing(job.out / MISSING)),
        missing_count=missing,
    )
    target = job.out / REPORT
    page.write(target, above, lambda: rows_in(job.out / ROWS), job.store.crop)
    return target


def write_crops(
    job: ReportJob, names: Collection[str], *, engine: Engine, progress: Progress
) -> Path:
    """Cut pictures into a folder beside the report; the folder. names: of pieces, or numbers on
    them; "all" for every piece."""
    wanted = {*names, *("".join(name.split()) for name in names)}

    def rows() -> Iterator[Row]:
        for row in rows_in(job.out / ROWS):
            if "all" in wanted or wanted & {row.piece, row.article, row.card}:
                yield row

    total = sum(1 for _ in rows())
    if not total:
        raise _no_such_row(", ".join(names))
    folder = job.out / crop_files.FOLDER
    cutter = Cutter(source=job.source, engine=engine, progress=progress, total=total)
    crop_files.write(rows(), folder, cutter)
    return folder


def write_tables(job: ReportJob) -> list[Path]:
    """The tables asked for; their paths."""
    written = []
    if job.csv:
        tables.write_csv(rows_in(job.out / ROWS), job.out / "rows.csv")
        written.append(job.out / "rows.csv")
    if job.parquet:
        tables.write_parquet(rows_in(job.out / ROWS), job.out / "rows.parquet")
        written.append(job.out / "rows.parquet")
    return written


def write_sheet(job: ReportJob, name: str, ledger: Ledger | None, *, engine: Engine) -> Path:
    """The evidence sheet of one piece, by its name or a number on it, and beside it the
    ledger's proof. Raises TableUnusable where no row is of that name."""
    row = _row_named(job.out / ROWS, name)
    stem = "".join(char if char.isalnum() or char in "-_." else "_" for char in row.piece)
    target = job.out / f"evidence-{stem}.pdf"
    crop = crops.of_row(row, source=job.source, engine=engine)
    proof, file = _proof(row, ledger, target.with_suffix(".proof.json"))
    evidence = sheet_words.Evidence(
        row=row,
        label=crop.label,
        box=crop.box,
        made=job.made,
        rates=rates(job.strictness),
        proof=proof,
        proof_file=file,
    )
    evidence_sheet.write(evidence, target)
    return target


def take_back(path: Path, store: Store) -> tuple[int, int]:
    """Keep the decisions of a file with the run, and put them in its rows: how many rows have
    one now (a note alone is none), and how many of the file's are on no row (other pieces, or other
    photos of them, or another verdict). Raises TableUnusable, OutputRefused."""
    given = review.Decisions.read(path)
    decisions = review.Decisions.of(store.decisions())
    decisions.merge(given)
    target = store.out / ROWS
    many = used = 0

    def reviewed() -> Iterator[Row]:
        nonlocal many, used
        for row in rows_in(target):
            said = decisions.about(row)
            is_decided = said is not None and said.decision != review.NOTED
            many += is_decided or row.keyed is not None
            used += given.is_about(row)
            yield msgspec.structs.replace(row, review=said)

    store.keep_decisions(decisions.by_piece.values())
    write_rows(reviewed(), target)
    store.finish(rows_in(target))
    return many, len(given.by_piece) - used


def note_in_ledger(out: Path, ledger: Ledger, *, desk: str, operator: str) -> int:
    """Note every reviewed row in the ledger; how many there are. Again it changes nothing."""
    return sum(
        review.record(row, ledger, desk=desk, operator=operator) for row in rows_in(out / ROWS)
    )


def _proof(row: Row, ledger: Ledger | None, target: Path) -> tuple[ProofCheck | None, str]:
    if ledger is None or not row.article:
        return None, ""
    try:
        data = ledger.proof(row.article)
    except ProofUnusable:
        return None, ""  # the row says that it was never recorded
    output.replace(target, [data])
    return check_proof(data, where=target), target.name


def _row_named(path: Path, name: str) -> Row:
    wanted = "".join(name.split())
    for row in rows_in(path):
        if name == row.piece or wanted in (row.article, row.card):
            return row
    raise _no_such_row(name)


def _no_such_row(name: str) -> TableUnusable:
    return TableUnusable(
        "No row is of this piece",
        where=name,
        remedy="Give a piece's name as in the rows, or the number on its label or card.",
    )


def _gravest(path: Path) -> Iterator[Row]:
    """Rows that do not agree, those that differ first."""
    for verdict in (Verdict.DIFFERS, Verdict.UNREAD):
        yield from (row for row in rows_in(path) if row.standing is verdict)


def _first(found: Iterator[Row], most: int) -> Iterator[Row]:
    for number, row in enumerate(found):
        if number >= most:
            return
        yield row


def _write_missing(target: Path, found: Iterable[Missing]) -> int:
    """One line each, and how many; no file where nothing is missing."""
    many = 0

    def rows() -> Iterator[tuple[object, ...]]:
        nonlocal many
        for one in found:
            many += 1
            yield (
                grouped(one.article),
                grouped(one.card),
                harmless(one.known_from),
                harmless(one.desk),
                harmless(one.day),
            )

    output.replace(target, csv_tables.encoded(csv_tables.table(csv_tables.MISSING, rows())))
    if not many:
        target.unlink()
    return many


def _first_missing(path: Path) -> Iterator[tuple[str, str, str]]:
    if path.exists():
        with path.open(encoding="utf-8", newline="") as file:
            for row, _ in zip(csv.DictReader(file), range(200), strict=False):
                article, card = (row[side].replace(" ", "") for side in ("article", "card"))
                yield article, card, row["known_from"]

"""`counterfoil audit`: photographed pieces by the thousand, and what the result is worth."""

from __future__ import annotations

from contextlib import ExitStack
from datetime import datetime
from pathlib import Path
from typing import Any

import click

import pairing
from counterfoil import audit_options, exits, options, unusable_photos
from counterfoil.form_offer import FormOffer
from counterfoil.opening import cluster_engine, tell_of_confinement
from counterfoil.progress import MinuteLog, above_bar, bars
from counterfoil.view import style
from pairing.audit.reports import front, outcome, tables
from pairing.audit.run import sources
from pairing.audit.run.job import Job, Result, check_apart
from pairing.audit.run.judging import Context
from pairing.audit.run.lot import ROWS, run
from pairing.audit.run.records import Records, pairs_in, with_pairs
from pairing.audit.run.review import Decisions
from pairing.audit.run.run_store import Store
from pairing.audit.statistics import draws
from pairing.audit.statistics.piece_lists import pieces_in
from pairing.audit.statistics.summary import Conclusion, Summary
from pairing.desk import dates
from pairing.judge.box import STRICTNESS
from pairing.ledger import Ledger
from pairing.model import Verdict
from pairing.photos.pool import Pool, cores
from pairing.pieces import office_rules, photo_groups


def _confidence(_: click.Context, parameter: click.Parameter, given: str) -> float:
    try:
        number = float(given.strip().removesuffix("%")) / (100 if "%" in given else 1)
    except ValueError:
        number = 0.0
    if not 0 < number < 1:
        raise click.BadParameter(f"{given!r} is not a confidence; give 95%.", param=parameter)
    return number


@click.command("audit")
@click.argument("place", metavar="FOLDER|ADDRESS")
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), required=True,
              metavar="DIR", help="Where rows and reports go; the same again goes on.")  # fmt: skip
@click.option("--unsorted", is_flag=True,
              help="Find from the boxes which card belongs to which label.")  # fmt: skip
@click.option("--pieces", "table", type=click.Path(path_type=Path), metavar="FILE.csv",
              help="Which photos belong to which piece: columns piece, photo, shows.")  # fmt: skip
@click.option("--expected", type=click.Path(path_type=Path), metavar="FILE.csv",
              help="Pairs that another system printed: columns article, card.")  # fmt: skip
@click.option("--ledger", "ledger_url", metavar="URL", help="Hold the lot against this ledger.")
@click.option("--since", type=options.DAY,
              help="The lot should hold the ledger's pieces from this day on.")  # fmt: skip
@click.option("--until", type=options.DAY, help="... up to and with this day.")
@click.option("--strictness", type=click.Choice(STRICTNESS), default="1e-4", show_default=True,
              metavar="RATE", help='Most wrong "agrees" among differing pairs, for what is read '
              f"by its shape: {', '.join(STRICTNESS)}.")  # fmt: skip
@click.option("--sample", type=click.Path(path_type=Path), metavar="FILE.json",
              help="The sample that was drawn; the bound is then on its lot.")  # fmt: skip
@click.option("--void", "void", type=click.Path(path_type=Path), metavar="FILE",
              help="Pieces of the sample that were never mailed, one a line: spares stand in "
              "for them.")  # fmt: skip
@click.option("--lot", type=click.IntRange(min=1), help="Pieces in the whole lot.")
@click.option("--confidence", default="95%", show_default=True, callback=_confidence,
              metavar="C", help="Of the bound.")  # fmt: skip
@click.option("--decisions", type=click.Path(path_type=Path), metavar="FILE.json",
              help="Take back what was decided in the report.")  # fmt: skip
@click.option("--record", is_flag=True, help="Note reviewed pieces in the ledger.")
@click.option("--desk", default="audit", show_default=True, help="Recorded with --record.")
@click.option("--operator", default="auditor", show_default=True,
              help="Recorded with --record where a decision names nobody.")  # fmt: skip
@click.option("--sheet", "sheets", multiple=True, metavar="PIECE",
              help="A PDF evidence sheet for this piece, by name or number.")  # fmt: skip
@click.option("--crops", "crops", multiple=True, metavar="PIECE|all",
              help="Pictures of this piece, or of all, beside the report, agreeing ones "
              "too.")  # fmt: skip
@click.option("--csv", "as_csv", is_flag=True, help="Rows as CSV too.")
@click.option("--parquet", "as_parquet", is_flag=True, help="Rows as Parquet too.")
@click.option("--no-report", is_flag=True, help="Rows and summary alone.")
@click.option("--results", "results_url", metavar="URL",
              help="Keep what is read and the rows in this PostgreSQL database "
              "(postgresql://USER@HOST/DATABASE), and not in DIR; any machine can go "
              "on.")  # fmt: skip
@click.option("--run", "run_name", metavar="NAME",
              help="The run's name among --results; by default where its photos are.")  # fmt: skip
@click.option("--reread", "rereads", is_flag=True,
              help="Read again what another version of the reader has read, and cards whose box "
              "was not read: their form may have been taught.")  # fmt: skip
@click.option("--workers", type=click.IntRange(min=1), help="Processes; all processors.")
@click.option("--cluster", metavar="ADDRESS",
              help="Read the photos on the workers of this Dask scheduler.")  # fmt: skip
def command(**options: Any) -> int:
    """Re-check pieces from photographs, in any quantity, and say what can be concluded.

    What was read is kept in DIR: a run that was stopped, however it was, goes on where it
    was. Exit codes as for `photos`.
    """
    given = audit_options.AuditOptions(**options)
    audit_options.refuse_contradictions(given)
    office_rules.chosen()  # a rule that there is none of is said before the long work
    with ExitStack() as held:
        url = given.ledger_url
        ledger = held.enter_context(Ledger.open(url, must_exist=True)) if url else None
        records = _records(given, ledger)
        if given.as_parquet:
            tables.require_parquet(given.out)  # said before the first photo, not after the last
        source = _source(given)
        check_apart(source, given.out)
        name = given.run_name or (source.shown if given.results_url else "")
        store = held.enter_context(Store(given.out, results=given.results_url or "", name=name))
        asked = _report_job(given, source, store)
        tell_of_confinement()
        job = _job(given, source, store)
        pool: Pool[Any, Any] = Pool(given.workers or cores(), **source.reading)
        engine = cluster_engine(given.cluster, held, source) if given.cluster else pool.run
        log = MinuteLog(given.out / "progress.log", echo=above_bar)
        offer = FormOffer(source, heard=log.tally.add)
        with bars() as progress:

            def tell(stage: str, done: int, total: int) -> None:
                progress(stage, done, total)
                log.tell(stage, done, total)

            result = run(
                job,
                context=Context(records=records, strictness=given.strictness),
                engine=engine,
                workers=given.workers,
                progress=tell,
                heard=offer.add,
            )
        if given.decisions:
            _tell_taken(*outcome.take_back(given.decisions, store))
        if given.record and ledger is not None:
            noted = outcome.note_in_ledger(
                given.out, ledger, desk=given.desk, operator=given.operator
            )
            click.echo(f"{noted} reviewed pieces are noted in the ledger.", err=True)
        summary, found, missing = outcome.summarize(asked, records)
        written = outcome.write_tables(asked)
        if given.crops:
            with bars() as progress:
                written.append(
                    outcome.write_crops(asked, given.crops, engine=pool.run, progress=progress)
                )
        if not given.no_report:
            with bars() as progress:
                written.append(
                    outcome.report(
                        asked, summary, found, missing, engine=pool.run, progress=progress
                    )
                )
        for name in given.sheets:
            written.append(outcome.write_sheet(asked, name, ledger, engine=pool.run))
    _tell(result, summary, found, missing, written)
    if not summary.pieces:
        click.echo(
            f"There are no photos in {style.plain(given.place)}. Name a folder with some.",
            err=True,
        )
        return exits.NOT_DONE
    unusable_photos.tell(given.out / ROWS, summary.unusable)
    verdicts = (one for one in Verdict if summary.verdicts[one.value])
    return exits.of_verdicts(verdicts, skipped=bool(summary.unusable))


def _records(given: audit_options.AuditOptions, ledger: Ledger | None) -> Records:
    since = dates.span(given.since)[0] if given.since else None
    until = dates.span(given.until)[1] if given.until else None
    pairs = with_pairs(pairs_in(given.expected)) if given.expected else {}
    return Records(**pairs, ledger=ledger, since=since, until=until)


def _source(given: audit_options.AuditOptions) -> sources.Source:
    place = given.place
    return sources.Source(root=place if "://" in place else str(Path(place).resolve()))


def _report_job(
    given: audit_options.AuditOptions, source: sources.Source, store: Store
) -> outcome.ReportJob:
    now = datetime.now().astimezone()
    return outcome.ReportJob(
        out=given.out,
        store=store,
        source=source,
        title=f"Audit of {source.shown if source.is_remote else given.place}",
        made=f"Made on {now:%Y-%m-%d at %H:%M %Z} by Counterfoil {pairing.__version__}; rows in "
        f"{given.out}",
        confidence=given.confidence,
        lot=given.lot,
        sample=draws.read(given.sample) if given.sample else None,
        void=frozenset(one.name for one in pieces_in(given.void)) if given.void else frozenset(),
        strictness=given.strictness,
        csv=given.as_csv,
        parquet=given.as_parquet,
    )


def _job(given: audit_options.AuditOptions, source: sources.Source, store: Store) -> Job:
    listed = None
    if given.table:
        root = Path(source.root)
        listed = tuple(_below(piece, root) for piece in photo_groups.from_table(given.table))
    return Job(
        source=source,
        out=given.out,
        listed=listed,
        is_unsorted=given.unsorted,
        rereads=given.rereads,
        decisions=Decisions.read(given.decisions) if given.decisions else None,
        store=store,
    )


def _below(piece: photo_groups.PhotoPiece, root: Path) -> photo_groups.PhotoPiece:
    """The same piece with its photos named from the folder that is audited."""
    photos = tuple(
        photo_groups.Photo(path=_from(photo.path.resolve(), root), shows=photo.shows)
        for photo in piece.photos
    )
    return photo_groups.PhotoPiece(name=piece.name, photos=photos, is_declared=True)


def _from(path: Path, root: Path) -> Path:
    if not path.is_relative_to(root):
        raise click.UsageError(f"{style.path_text(path)} of --pieces lies outside the folder.")
    return path.relative_to(root)


def _tell_taken(reviewed: int, strange: int) -> None:
    click.echo(f"{reviewed:,} of the pieces are reviewed.", err=True)
    if strange:
        click.echo(
            f"{strange:,} of the decisions are on no piece here, or on other photos of it, and do "
            "not count. Were they made in the report of another run?",
            err=True,
        )


def _tell(
    result: Result,
    summary: Summary,
    found: Conclusion | None,
    missing: int,
    written: list[Path],
) -> None:
    for line in result.notes:
        click.echo(line, err=True)
    if result.read_otherwise:
        click.echo(
            f"{result.read_otherwise:,} of the photos were read by another version of the reader; "
            "--reread reads them again.",
            err=True,
        )
    if found is not None and found.aim is not None:
        click.echo(style.paragraph(front.aim_in_words(found.aim), head="aim"))
        if found.warning:
            click.echo(style.paragraph(found.warning, head="look"))
    before = result.photos - result.read_now
    kept = f", {before:,} of them read before" if before else ""
    photos = f"{result.photos:,} photo{'' if result.photos == 1 else 's'}"
    click.echo(f"{photos}{kept}; {summary.unusable:,} unusable.", err=True)
    counts = ", ".join(
        f"{summary.verdicts[one.value]:,} {word}"
        for one, word in (
            (Verdict.AGREES, "agree"),
            (Verdict.DIFFERS, "differ"),
            (Verdict.UNREAD, "unread"),
        )
    )
    click.echo(f"{summary.pieces:,} piece{'' if summary.pieces == 1 else 's'}: {counts}")
    if summary.probable or summary.probably_short:
        click.echo(style.paragraph(front.probable_in_words(summary), head="probable"))
    if missing:
        pairs = "1 pair is" if missing == 1 else f"{missing:,} pairs are"
        click.echo(f"{pairs} recorded or expected and not photographed: missing.csv")
    if found is not None:
        click.echo(style.paragraph(front.bound_in_words(found), head="bound"))
    if summary.worst:
        worst = f"Piece {style.plain(summary.worst.piece)}: {summary.worst.message}"
        click.echo(style.paragraph(worst, head="worst"))
    for path in written:
        click.echo(f"Written: {style.path_text(path)}", err=True)

"""`counterfoil photos`: verdicts from photographs."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable
from pathlib import Path

import click

from counterfoil import exits, terminal
from counterfoil.asking import asked_all, without_labels
from counterfoil.opening import tell_of_confinement
from counterfoil.view import style, verdicts
from pairing import output
from pairing.errors import OutputRefused
from pairing.findings import Weight
from pairing.judge.box import STRICTNESS
from pairing.photos.files import is_photo_name
from pairing.photos.written import thresholds
from pairing.pieces import office_rules, report
from pairing.pieces.batch import BatchResult, PieceResult, judge_all, read_all, with_written
from pairing.pieces.drawings import write_decision, write_pictures
from pairing.pieces.photo_groups import PhotoPiece, find_photos, from_table, group
from pairing.pieces.reading import PieceReadings


@click.command("photos")
@click.argument(
    "places", metavar="FOLDER|FILE...", nargs=-1, type=click.Path(path_type=Path, readable=False)
)
@click.option(
    "--pieces",
    "table",
    type=click.Path(path_type=Path),
    metavar="FILE.csv",
    help="Which photos belong to which piece: columns piece, photo and, if need be, shows.",
)
@click.option(
    "--written",
    multiple=True,
    metavar="PIECE=NUMBER",
    help="What a person reads in that piece's box. May be given again.",
)
@click.option(
    "--ask",
    is_flag=True,
    help="Ask for what was not read in a box: digits in doubt one by one, else the number.",
)
@click.option(
    "--strictness",
    type=click.Choice(STRICTNESS),
    default="1e-4",
    show_default=True,
    metavar="RATE",
    help='Most wrong "agrees" among differing pairs, for what is read by its shape: '
    f"{', '.join(STRICTNESS)}.",
)
@click.option(
    "--hold-labels/--show-labels",
    "are_labels_held",
    default=None,
    help="Leave an unread piece's label out of --json and --csv, so that whoever keys its box "
    "does not know it. By default with --ask.",
)
@click.option("--json", "json_to", metavar="FILE", help="Write the result as JSON; - for stdout.")
@click.option("--csv", "csv_to", metavar="FILE", help="Write the result as CSV; - for stdout.")
@click.option(
    "--pictures",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Write there each photo with what was read outlined, and each box with its digits.",
)
@click.option(
    "--workers",
    type=click.IntRange(min=1),
    help="Processes that read photos; all processors by default.",
)
@click.option("--brief", is_flag=True, help="One line a piece.")
def command(  # noqa: PLR0913, PLR0917 - click hands every option over by name
    places: tuple[Path, ...],
    table: Path | None,
    written: tuple[str, ...],
    ask: bool,
    strictness: str,
    are_labels_held: bool | None,
    json_to: str | None,
    csv_to: str | None,
    pictures: Path | None,
    workers: int | None,
    brief: bool,
) -> int:
    """Check photographed pieces: one verdict for each.

    One photo may show label and card; or two share a stem, as 0007-label.jpg and
    0007-card.jpg; or --pieces lists what belongs together.
    """
    if bool(places) == bool(table):
        raise click.UsageError("Give photos or folders, or --pieces FILE.csv.")
    if json_to is not None and json_to == csv_to:
        raise click.UsageError("--json and --csv cannot go to the same place.")
    found = from_table(table) if table else group(find_photos(places))
    if not found:
        where = ", ".join(style.path_text(one) for one in (*places, table) if one)
        click.echo(f"There are no photos in {where}. Name photos, or a folder with some.", err=True)
        return exits.NOT_DONE
    office_rules.chosen()  # a rule that there is none of is said before the long work
    keyed = _keyed(written, {piece.name for piece in found})
    _check_targets((json_to, csv_to), found)
    tell_of_confinement()
    read = [_with_keyed(one, keyed.get(one.piece.name, ())) for one in _read(found, workers)]
    rule = thresholds(strictness)
    if ask:
        read = asked_all(read, rule, pictures)
    batch = judge_all(read, thresholds=rule)
    _tell(batch)
    is_held = ask if are_labels_held is None else are_labels_held
    blind = without_labels(batch)
    if pictures:
        _draw(read, batch, pictures, are_labels_held=is_held)
    if "-" not in (json_to, csv_to):
        _show(blind, brief=brief)
        if not ask:
            _tell_of_asking(batch)
    if is_held:
        batch = blind
    if json_to:
        members = report.as_json(batch, are_labels_held=is_held)
        _write(json_to, json.dumps(members, indent=2) + "\n")
    if csv_to:
        _write(csv_to, report.as_csv(batch, are_labels_held=is_held))
    held = sum(map(report.is_unread, batch.pieces)) if is_held and (json_to or csv_to) else 0
    if held:
        click.echo(
            f"The labels of {held} unread piece{'s' * (held > 1)} are held back (--show-labels).",
            err=True,
        )
    verdicts = (result.judgment.verdict for result in batch.pieces)
    return exits.of_verdicts(verdicts, skipped=bool(batch.skipped))


def _keyed(written: Iterable[str], names: set[str]) -> dict[str, list[str]]:
    keyed: dict[str, list[str]] = {}
    for pair in written:
        name, equals, number = pair.partition("=")
        if not equals or name not in names:
            known = ", ".join(sorted(names)[:5]) + (", ..." if len(names) > 5 else "")
            raise click.UsageError(
                f"--written {pair!r}: it takes PIECE=NUMBER; pieces here: {known}."
            )
        keyed.setdefault(name, []).append(number)
    return keyed


def _with_keyed(one: PieceReadings, texts: Iterable[str]) -> PieceReadings:
    """Every answer counts: two different ones for one box are told, not chosen from."""
    for text in texts:
        one = with_written(one, text)
    return one


def _check_targets(targets: tuple[str | None, ...], found: tuple[PhotoPiece, ...]) -> None:
    """Refuse a bad target before the long work, and one that is a photo in any case."""
    photos = {os.path.realpath(photo.path) for piece in found for photo in piece.photos}
    for target in targets:
        if target is None or target == "-":
            continue
        if os.path.realpath(target) in photos:
            raise OutputRefused(
                "The result would overwrite a photo", where=target, remedy="Name another file."
            )
        if is_photo_name(Path(target)) and Path(target).exists():  # --json PHOTO PHOTO
            raise OutputRefused(
                "The result would overwrite a photo",
                where=target,
                remedy="After --json and --csv name the file to write, or - for the screen.",
            )
        folder = Path(target).parent
        if not folder.is_dir() or not os.access(folder, os.W_OK):
            raise OutputRefused(
                "The result cannot be written there",
                where=target,
                remedy="Name a file in a folder that you may write to.",
            )


def _read(found: tuple[PhotoPiece, ...], workers: int | None) -> list[PieceReadings]:
    from tqdm import tqdm  # noqa: PLC0415 - only this command shows progress

    bar = tqdm(
        read_all(found, workers=workers),
        total=len(found),
        unit="piece",
        leave=False,
        file=terminal.own(sys.stderr),
        disable=not sys.stderr.isatty(),
        bar_format="{n} of {total} pieces read, {remaining} left",
    )
    return list(bar)


def _draw(
    read: list[PieceReadings], batch: BatchResult, folder: Path, *, are_labels_held: bool
) -> None:
    results = {id(result.piece): result for result in batch.pieces}
    for one in read:
        write_pictures(one, folder)
        if id(one.piece) in results:
            result = results[id(one.piece)]
            is_held = are_labels_held and report.is_unread(result)
            write_decision(one, result, folder, is_label_held=is_held)


def _tell_of_asking(batch: BatchResult) -> None:
    few = sum(map(_lacks_digits_only, batch.pieces))
    if few:
        whose = f"{few} of them lack" if few > 1 else "1 of them lacks"
        if len(batch.pieces) == 1:
            whose = "It lacks"
        click.echo(f"{whose} only a digit or a few: --ask shows each by itself.")


def _lacks_digits_only(result: PieceResult) -> bool:
    """Whether nothing but what a person may read in the box is in doubt."""
    doubts = [one for one in result.judgment.findings if one.weight is Weight.DOUBT]
    return bool(result.weighed.asks) and all(one.code.startswith("box-") for one in doubts)


def _tell(batch: BatchResult) -> None:
    for line in batch.missing:
        click.echo(line, err=True)
    for row in batch.skipped:
        click.echo(
            f"Skipped {style.path_text(row.photo.path)}: {style.plain(row.reason)}", err=True
        )


def _show(batch: BatchResult, *, brief: bool) -> None:
    for result in batch.pieces:
        name, judgment = result.piece.name, result.judgment
        if brief:
            click.echo(verdicts.headline(name, judgment))
        else:
            click.echo(verdicts.verdict_block(name, judgment) + "\n")
    many = len(batch.skipped)
    skipped = f"; {many} photo{'' if many == 1 else 's'} skipped" if many else ""
    click.echo(verdicts.counts(result.judgment for result in batch.pieces) + skipped)


def _write(target: str, text: str) -> None:
    if target == "-":
        click.echo(text, nl=False)
        return
    output.replace_or_feed(Path(target), text.encode())

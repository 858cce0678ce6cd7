"""`counterfoil demo`: drawn pieces, checked."""

from __future__ import annotations

import tempfile
from pathlib import Path

import click

from counterfoil import exits
from counterfoil.view import style, verdicts
from pairing.demo import MANIFEST, PIECES, draw_pieces
from pairing.pieces.batch import judge_all, read_all
from pairing.pieces.photo_groups import from_table

_SHORT_SET = ("0001", "0005", "0008", "0015", "0027", "0028", "0029", "0034")
"""One of each kind of answer; the whole set takes about a minute to draw."""


@click.command("demo")
@click.option(
    "--into",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="FOLDER",
    help="Keep the photos and their manifest there.",
)
@click.option("--all", "whole", is_flag=True, help=f"All {len(PIECES)} pieces, not a few.")
def command(into: Path | None, whole: bool) -> int:
    """Draw photographed pieces of an invented office and check them.

    Each is shown with what was done to it. Exit code 0 if every verdict is the one that
    the manifest asks for, 13 if not.
    """
    names = None if whole else _SHORT_SET
    click.echo("Drawing the pieces ...", err=True)
    with tempfile.TemporaryDirectory(prefix="counterfoil-") as folder:
        place = into or Path(folder)
        rows = {row.piece: row for row in draw_pieces(place, names=names)}
        batch = judge_all(tuple(read_all(from_table(place / MANIFEST))))
    as_asked = True
    for result in batch.pieces:
        row = rows[result.piece.name]
        as_asked = as_asked and result.judgment.verdict == row.verdict
        click.echo(verdicts.verdict_block(result.piece.name, result.judgment, notes=False))
        click.echo(style.paragraph(f"{row.purpose} (expected: {row.verdict})", head="drawn") + "\n")
    click.echo(verdicts.counts(result.judgment for result in batch.pieces))
    return exits.ALL_AGREE if as_asked else exits.NOT_DONE

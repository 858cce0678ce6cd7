"""`counterfoil ledger export`, `import`, `backup`: the whole ledger, out and in."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, AnyStr

import click

from counterfoil import exits, options, terminal
from counterfoil.opening import existing
from counterfoil.view import style
from pairing import output
from pairing.errors import TableUnusable
from pairing.ledger import Ledger

_FORMS = ("jsonl", "csv")
_LONGEST_LINE = 4_000_000
"""Bytes; an entry has about a thousand, a day list's note some fifty a piece."""


@click.command("export")
@click.argument("file", type=click.Path(path_type=Path), default="-")
@click.option(
    "--form", type=click.Choice(_FORMS), help="By default as FILE ends, else jsonl (JSON Lines)."
)
@click.option(
    "--names", is_flag=True, help="With names and addresses; JSON Lines only. Keep it safe."
)
@options.ledger
def export(file: Path, form: str | None, names: bool, ledger_url: str | None) -> int:
    """Write every entry to FILE, by default to standard output.

    JSON Lines hold each entry's bytes as they were hashed, and the signed heads; CSV holds the
    entries alone. Both can be brought back exactly with `counterfoil ledger import`.
    """
    form = form or _form_of(file)
    if names and form == "csv":
        raise click.UsageError("--names goes with JSON Lines.")
    is_stdout = str(file) == "-"
    if not is_stdout:
        output.check_new(file)
    with existing(ledger_url) as opened:
        lines = (
            (line.encode() for line in opened.export_csv())
            if form == "csv"
            else opened.export_lines(with_particulars=names)
        )
        if is_stdout:
            for line in lines:
                click.echo(line, nl=False)
        else:
            size = output.write_new(file, lines, is_private=names)
            click.echo(f"Written: {style.path_text(file)} ({size} bytes)")
    return exits.ALL_AGREE


@click.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--form", type=click.Choice(_FORMS), help="By default as FILE ends, else jsonl.")
@options.ledger
def bring_in(file: Path, form: str | None, ledger_url: str | None) -> int:
    """Bring an exported FILE (- for standard input) into an empty ledger, or into one that
    FILE continues. All of it, or nothing."""
    form = form or _form_of(file)
    where = style.path_text(file)
    try:
        with click.open_file(os.fspath(file), "rb") as source, Ledger.open(ledger_url) as opened:
            if form == "csv":
                text = io.TextIOWrapper(source, encoding="utf-8", newline="")
                count = opened.import_csv(_lines(text, where), where=where)
            else:
                count = opened.import_lines(_lines(source, where), where=where)
            size = opened.size()
    except (OSError, UnicodeDecodeError) as error:
        raise TableUnusable(
            f"The file cannot be read ({getattr(error, 'strerror', None) or error})",
            where=where,
            remedy="Name a file that `counterfoil ledger export` wrote.",
        ) from error
    click.echo(f"{count} new entries; the ledger has {size} now.")
    click.echo("Check it: counterfoil ledger verify", err=True)
    return exits.ALL_AGREE


@click.command("backup")
@click.argument("file", type=click.Path(path_type=Path))
@options.ledger
def backup(file: Path, ledger_url: str | None) -> int:
    """Copy the ledger to FILE as of one moment, while desks go on working.

    The copy opens with --ledger FILE. The key that signs is not in it.
    """
    with existing(ledger_url) as opened, _progress() as progress:
        opened.back_up(file, progress=progress)
    where = style.path_text(file)
    click.echo(f"Written: {where} ({file.stat().st_size} bytes)")
    click.echo(f"Check it: counterfoil ledger verify --ledger {where}", err=True)
    return exits.ALL_AGREE


def _form_of(file: Path) -> str:
    return "csv" if file.suffix.lower() == ".csv" else "jsonl"


def _lines(source: IO[AnyStr], where: str) -> Iterator[AnyStr]:
    number = 0
    while line := source.readline(_LONGEST_LINE):
        number += 1
        if len(line) == _LONGEST_LINE:
            raise _too_long(where, number)
        yield line


def _too_long(where: str, number: int) -> TableUnusable:
    return TableUnusable(
        "This line is too long for a ledger's",
        where=f"{where}, line {number}",
        remedy="Name a file that `counterfoil ledger export` wrote.",
    )


@contextmanager
def _progress() -> Iterator[Callable[[int, int], None] | None]:
    if not sys.stderr.isatty():
        yield None
        return
    from tqdm import tqdm  # noqa: PLC0415 - only where somebody waits

    with tqdm(unit=" pages", leave=False, file=terminal.own(sys.stderr)) as bar:

        def show_pages(done: int, total: int) -> None:
            bar.total = total
            bar.update(done - bar.n)

        yield show_pages

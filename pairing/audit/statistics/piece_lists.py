"""Lists of a lot's pieces, as other systems write them: names, and where asked for the stratum and
the value of each."""

from __future__ import annotations

import csv
import os
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from pairing import whole_file
from pairing.audit.statistics.selection import value_of
from pairing.errors import TableUnusable


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """One piece of a list. stratum: "" and value: 0 where they were not asked for."""

    name: str
    stratum: str = ""
    value: Fraction = Fraction(0)


def pieces_in(
    table: Path, column: str | None = None, *, stratum: str | None = None, value: str | None = None
) -> Iterator[Listed]:
    """The pieces of a list: a CSV file's column (by default `piece`, else `article`), or a text
    file's lines. stratum, value: columns with these, of a CSV file. Streams. Raises TableUnusable,
    also where it cannot tell which column is meant.
    """
    try:
        with table.open(newline="", encoding="utf-8-sig") as file:
            rows = csv.reader(whole_file.lines(file))
            head = next(rows, [])
            place = _column(head, column, table)
            at = [None if one is None else _place(head, one, table) for one in (stratum, value)]
            if place is None:
                file.seek(0)
                rows, place = csv.reader(whole_file.lines(file)), 0
            for row in rows:
                if name := _cell(row, place):
                    yield Listed(
                        name=name,
                        stratum=_cell(row, at[0]),
                        value=value_of(_cell(row, at[1]), where=f"{table} line {rows.line_num}"),
                    )
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        why = (error.strerror if isinstance(error, OSError) else None) or error
        raise TableUnusable(
            f"The list of pieces cannot be read ({why})",
            where=os.fspath(table),
            remedy="Give a UTF-8 text file with a piece a line, or a CSV file.",
        ) from error


def _cell(row: list[str], place: int | None) -> str:
    return row[place].strip() if place is not None and len(row) > place else ""


def _column(head: list[str], column: str | None, table: Path) -> int | None:
    """The place of the column; None where the first line is a piece already."""
    if column is not None:
        return _place(head, column, table)
    names = [cell.strip().lower() for cell in head]
    found = next((names.index(name) for name in ("piece", "article") if name in names), None)
    if found is None and len(names) > 1:
        raise TableUnusable(
            "The list has no column piece or article",
            where=os.fspath(table),
            remedy=f"Say with --column which one names the pieces; it has {', '.join(names)}.",
        )
    return found


def _place(head: list[str], column: str, table: Path) -> int:
    names = [cell.strip().lower() for cell in head]
    if column.strip().lower() in names:
        return names.index(column.strip().lower())
    raise TableUnusable(
        f"The list has no column {column!r}",
        where=os.fspath(table),
        remedy=f"It has {', '.join(names) or 'none'}.",
    )

"""The rows of a CSV file that an office's own system wrote."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from pairing.errors import TableUnusable

_DELIMITERS = ",;\t|"
_LARGEST_BYTES = 64_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A row that is not empty. line: where it ends in the file, from 1."""

    line: int
    cells: tuple[str, ...]


def of_file(path: Path) -> tuple[bytes, list[Row]]:
    """The file's bytes and its rows. Raises TableUnusable."""
    data = _bytes(path)
    return data, _rows(data, os.fspath(path))


def _bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            data = file.read(_LARGEST_BYTES + 1)
    except OSError as problem:
        raise _unusable(
            f"The list cannot be read ({problem.strerror or problem})", path, "Check the path."
        ) from problem
    if len(data) > _LARGEST_BYTES:
        raise _unusable("The list is larger than 64 MB", path, "Split it into several files.")
    return data


def _rows(data: bytes, where: str) -> list[Row]:
    is_wide = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    try:
        text = data.decode("utf-16" if is_wide else "utf-8-sig")
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text))
        return [
            Row(line=reader.line_num, cells=tuple(cells))
            for cells in reader
            if any(cell.strip() for cell in cells)
        ]
    except (UnicodeDecodeError, csv.Error) as problem:
        raise TableUnusable(
            f"The list cannot be read ({problem})",
            where=where,
            remedy="Save it as CSV in UTF-8.",
        ) from problem


def _delimiter(text: str) -> str:
    first: Iterable[str] = (line for line in text.splitlines() if line.strip())
    line = next(iter(first), "")
    return max(_DELIMITERS, key=line.count)


def _unusable(what: str, path: Path, remedy: str) -> TableUnusable:
    return TableUnusable(what, where=os.fspath(path), remedy=remedy)

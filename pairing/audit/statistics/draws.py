"""The lot that a sample is drawn from, and the record of the draw."""

from __future__ import annotations

import csv
import hashlib
import json
import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from pairing.audit.statistics.sampling import Ranking
from pairing.errors import OutputRefused, TableUnusable
from pairing.numbers.text import is_digits

FORMAT = "counterfoil sample 1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A sample that was drawn, with all that is needed to draw it again.

    lot: pieces in the list, each once. list_sha256: of the names, each followed by a line
    feed (UTF-8), so that another list is not taken for this one. pieces: those drawn.
    """

    lot: int
    size: int
    share: str
    confidence: str
    allowed: int
    seed: str
    list_sha256: str
    pieces: tuple[str, ...]
    format: str = FORMAT


def names_in(table: Path, column: str | None = None) -> Iterator[str]:
    """The pieces of a list: a CSV file's column (by default `piece`, else `article`), or a text
    file's lines. Streams. Raises TableUnusable, also where it cannot tell which column is meant.
    """
    try:
        with table.open(newline="", encoding="utf-8-sig") as file:
            rows = csv.reader(file)
            place = _column(next(rows, []), column, table)
            if place is None:
                file.seek(0)
                rows, place = csv.reader(file), 0
            for row in rows:
                name = row[place].strip() if len(row) > place else ""
                if name:
                    yield name
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        why = (error.strerror if isinstance(error, OSError) else None) or error
        raise TableUnusable(
            f"The list of pieces cannot be read ({why})",
            where=os.fspath(table),
            remedy="Give a UTF-8 text file with a piece a line, or a CSV file.",
        ) from error


@dataclass(frozen=True, slots=True)
class Numbered:
    """The names of a lot of which only the size is known: 1 to `lot`, with leading zeros. They
    are made when asked for, so that a lot of any size takes no memory."""

    lot: int

    def __len__(self) -> int:
        return self.lot

    def __contains__(self, name: object) -> bool:
        is_shaped = isinstance(name, str) and len(name) == len(str(self.lot)) and is_digits(name)
        return is_shaped and 1 <= int(str(name)) <= self.lot

    def __iter__(self) -> Iterator[str]:
        width = len(str(self.lot))
        return (f"{n:0{width}}" for n in range(1, self.lot + 1))


def distinct(names: Iterable[str]) -> Sequence[str]:
    """The names once each, in order."""
    return tuple(dict.fromkeys(names))


def draw_from(  # noqa: PLR0913 - what is recorded of the plan
    names: Iterable[str], *, size: int, seed: str, share: str, confidence: str, allowed: int
) -> Drawn:
    """Draw, and record how. names: each once (`distinct`, `Numbered`); they are gone through
    once, and only the sample is kept in memory."""
    digest, ranking, lot = hashlib.sha256(), Ranking(size, seed=seed), 0
    for name in names:
        digest.update(f"{name}\n".encode())
        ranking.add(name)
        lot += 1
    return Drawn(
        lot=lot,
        size=min(size, lot),
        share=share,
        confidence=confidence,
        allowed=allowed,
        seed=seed,
        list_sha256=digest.hexdigest(),
        pieces=ranking.drawn(),
    )


def write(drawn: Drawn, target: Path) -> None:
    """Write the record as JSON. Raises OutputRefused."""
    try:
        target.write_text(json.dumps(asdict(drawn), indent=1) + "\n", encoding="utf-8")
    except OSError as error:
        raise OutputRefused(
            f"The sample cannot be written ({error.strerror or error})",
            where=os.fspath(target),
            remedy="Name a file in a folder that you may write to.",
        ) from error


def read(source: Path) -> Drawn:
    """Read a record back. Raises TableUnusable."""
    try:
        found: dict[str, Any] = json.loads(source.read_text(encoding="utf-8"))
        if found.get("format") != FORMAT:
            raise ValueError(found.get("format"))  # noqa: TRY301 - worded below
        drawn = Drawn(**{**found, "pieces": tuple(map(str, found["pieces"]))})
        if not (0 < float(drawn.share) < 1 and 0 < float(drawn.confidence) < 1):
            raise ValueError(drawn.share)  # noqa: TRY301 - worded below
    except OSError as error:
        raise TableUnusable(
            f"The sample cannot be read ({error.strerror or error})",
            where=os.fspath(source),
            remedy="Name the file that `counterfoil sample --out` wrote.",
        ) from error
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        raise TableUnusable(
            "This is no sample that was drawn by this program",
            where=os.fspath(source),
            remedy="Draw one with `counterfoil sample --out FILE.json`.",
        ) from error
    return drawn


def _column(head: list[str], column: str | None, table: Path) -> int | None:
    """The place of the column; None where the first line is a piece already."""
    names = [cell.strip().lower() for cell in head]
    if column is not None:
        if column.strip().lower() in names:
            return names.index(column.strip().lower())
        raise TableUnusable(
            f"The list has no column {column!r}",
            where=os.fspath(table),
            remedy=f"It has {', '.join(names) or 'none'}.",
        )
    found = next((names.index(name) for name in ("piece", "article") if name in names), None)
    if found is None and len(names) > 1:
        raise TableUnusable(
            "The list has no column piece or article",
            where=os.fspath(table),
            remedy=f"Say with --column which one names the pieces; it has {', '.join(names)}.",
        )
    return found

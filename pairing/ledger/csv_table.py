"""The ledger as CSV: one line an entry, nothing left out, so that it can be read back exactly.

Numbers are written in their printed groups, so that a spreadsheet does not round 22 digits to 15.
A cell that must be taken literally (it begins as a formula does, or a number in it has spaces of
its own) has an apostrophe in front. Signed heads,
names and addresses are not in it.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import msgspec

from pairing.csv_tables import FORMULA_STARTS, line
from pairing.csv_tables import LEDGER as COLUMNS
from pairing.errors import CounterfoilError, TableUnusable
from pairing.ledger.canonical import canonical
from pairing.ledger.entries import Entry, encode, from_members, members
from pairing.ledger.tree import leaf_hash
from pairing.numbers import printed

_NUMBERS = ("article", "card", "written")
_JSON = ("findings", "readings")
_WHOLE = ("sequence", "refers", "version")
_QUOTED = (*FORMULA_STARTS, "'")
"""What gets a quote in front; a cell's own quote too, so that it comes back exactly."""


def rows(entries: Iterable[Entry]) -> Iterator[str]:
    """The CSV's lines, the heading first. Streams. Lines end with a line feed."""
    yield line(COLUMNS)
    for entry in entries:
        found = members(entry)
        cells = dict.fromkeys(COLUMNS, "") | {
            name: _cell(name, value) for name, value in found.items()
        }
        cells["hash"] = leaf_hash(encode(entry)).hex()
        yield line([cells[name] for name in COLUMNS])


def entries_of(source: Iterable[str], *, where: str) -> Iterator[Entry]:
    """The entries of a CSV whose text was opened with newline="". Raises TableUnusable, with
    the line's number, where a row is not exactly what was exported."""
    reader = csv.DictReader(source, strict=True)
    try:
        if tuple(reader.fieldnames or ()) != COLUMNS:
            raise _unusable("The columns are not those of an exported ledger", where, 1)
        for cells in reader:
            yield _entry(cells, where, reader.line_num)
    except csv.Error as problem:
        raise _unusable(f"This is not a CSV table ({problem})", where, reader.line_num) from problem


def _entry(cells: Mapping[str, Any], where: str, line: int) -> Entry:
    try:
        found = {name: _value(name, cells[name]) for name in COLUMNS[:-1] if cells[name]}
        # A member that is there, though its cell is empty.
        found |= {name: "" for name in ("desk", "operator") if not cells[name]}
        entry = from_members(found)
        is_exact = leaf_hash(encode(entry)).hex() == cells["hash"]
    except (CounterfoilError, ValueError, TypeError, AttributeError, RecursionError) as problem:
        raise _unusable(f"This row is not an entry ({problem})", where, line) from problem
    if not is_exact:
        raise _unusable("This row is not what was exported", where, line)
    return entry


def _cell(name: str, value: Any) -> str:
    if name in _NUMBERS:
        shown = printed(value)
        is_plain = shown.replace(" ", "") == value and not value.startswith(_QUOTED)
        return shown if is_plain else f"'{value}"
    if name in _JSON:
        return canonical({"": value})[4:-1].decode()
    text = str(value)
    return f"'{text}" if text.startswith(_QUOTED) else text


def _value(name: str, cell: str) -> Any:
    if name in _JSON:
        return msgspec.json.decode(cell)
    if name in _WHOLE:
        return int(cell)
    if cell.startswith("'"):
        return cell[1:]
    return cell.replace(" ", "") if name in _NUMBERS else cell


def _unusable(what: str, where: str, line: int) -> TableUnusable:
    return TableUnusable(
        what,
        where=f"{where}, line {line}",
        remedy="Export the ledger again, and do not save it from a spreadsheet.",
    )

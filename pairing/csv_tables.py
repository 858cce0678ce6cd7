"""The CSV tables that are given out: the heads of each, and how cells and lines are written, safe
in a spreadsheet and exact for a script.

Every table has a head line, a comma between cells, line feeds, and is UTF-8 (RFC 4180 but for the
line ends). Tables that were given out are read by other programs: heads are added, never changed.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator

from pairing.numbers import printed

PHOTOS = (
    "piece", "verdict", "article", "card", "written", "written_by", "findings", "photos",
    "box_read", "box_doubtful",
)  # fmt: skip
"""`photos --csv`: one line for each piece."""

AUDIT = (
    "piece", "verdict", "after_review", "article", "card", "written", "written_by", "error",
    "positions", "findings", "desk", "day", "recorded", "ledger_entry", "match_log_odds",
    "match_margin_log_odds", "review", "note", "photos", "sha256",
)  # fmt: skip
"""`audit --csv`: one line for each piece; several values in one cell are separated by
semicolons."""

MISSING = ("article", "card", "known_from", "desk", "day")
"""Beside an audit's report: pairs that no photo shows."""

DAY_LIST = (
    "day", "list", "desk", "line", "says", "article", "card", "was_article", "was_card", "entry",
    "addressee", "reference", "service", "fee", "piece",
)  # fmt: skip
"""`daylist --csv`: one line for each row of the list."""

OUTSTANDING = (
    "entry", "sealed", "days", "article", "card", "desk", "operator", "inquire_by",
    "number_free_from", "addressee", "reference", "service", "fee",
)  # fmt: skip
"""`outstanding --csv`: one line for each piece whose card has not come back."""

LEDGER = (
    "sequence", "at", "kind", "desk", "operator", "verdict", "article", "card", "written",
    "refers", "remark", "key", "findings", "readings", "commitment", "previous", "version",
    "hash",
)  # fmt: skip
"""`ledger export` as CSV: one line for each entry. It is imported again, so a table with other
heads is refused."""

SAMPLES = (
    "piece", "photos", "purpose", "article", "card", "box", "box_bars", "box_by",
    "second_article", "error", "verdict", "verdict_when_read", "verdict_when_taught",
)  # fmt: skip
"""The manifest of the demo photos: one line for each piece."""

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for the start of a formula (OWASP, "CSV Injection")."""


def harmless(text: str) -> str:
    """A cell that no spreadsheet takes for a formula (a leading quote marks text there)."""
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


def grouped(number: str | None) -> str:
    """A number in its printed groups, so that a spreadsheet does not round 22 digits to 15;
    empty where there is none."""
    return harmless(printed(number)) if number else ""


def table(heads: Iterable[str], rows: Iterable[Iterable[object]]) -> Iterator[str]:
    """The lines of a table, the heads first. Streams."""
    yield line(heads)
    yield from map(line, rows)


def encoded(lines: Iterable[str]) -> Iterator[bytes]:
    """Lines as the bytes of a file. Streams."""
    return (one.encode("utf-8") for one in lines)


def line(cells: Iterable[object]) -> str:
    """One line, with its line feed. None becomes an empty cell."""
    out = io.StringIO()
    # Told that a line ends in both, the writer quotes cells with either in them.
    csv.writer(out, lineterminator="\r\n").writerow(cells)
    return out.getvalue()[:-2] + "\n"

"""Cells of CSV files that are given out: safe in a spreadsheet, exact for a script."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from pairing.numbers import printed

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for the start of a formula (OWASP, "CSV Injection")."""


def harmless(text: str) -> str:
    """A cell that no spreadsheet takes for a formula (a leading quote marks text there)."""
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


def grouped(number: str | None) -> str:
    """A number in its printed groups, so that a spreadsheet does not round 22 digits to 15;
    empty where there is none."""
    return harmless(printed(number)) if number else ""


def line(cells: Iterable[object]) -> str:
    """One line, with its line feed."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerow(cells)
    return out.getvalue()

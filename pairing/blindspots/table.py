"""How often a family's check digit misses each copying error: exact shares.

A share is over all valid numbers of the length, all places and all new digits, each
counted alike, given that the number changed. Nothing is simulated (see `edits`).

Real numbers are not uniformly random: a family's fixed first digits (9590 94..., 9407...)
are known, and checking them catches errors there that the check digit misses. The shares
are those of the check digit together with the form (length; letters and digits in their
places), and of nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from pairing.blindspots.rows import VERHOEFF_TOTAL, BlindSpot, table_rows, weighted
from pairing.blindspots.schemes import Scheme, scheme_for
from pairing.errors import CounterfoilError
from pairing.model import CheckRule, Family

__all__ = ["VERHOEFF_TOTAL", "BlindSpot", "BlindspotTable", "blindspots"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BlindspotTable:
    """What the check digit of one family misses, for one length.

    weighted: the share of numbers with one error that pass, the classes weighted by
        Verhoeff's counts (`rows.VERHOEFF_TOTAL`).
    notes: what the figures do not say, one sentence each.
    """

    family: str
    check_rule: CheckRule
    length: int
    rows: tuple[BlindSpot, ...]
    weighted: Fraction
    notes: tuple[str, ...]

    def row(self, code: str) -> BlindSpot:
        """The row of that code; an unknown code is an error."""
        for row in self.rows:
            if row.code == code:
                return row
        raise CounterfoilError(
            "The table has no such row",
            where=code,
            remedy=f"Ask for one of {', '.join(row.code for row in self.rows)}.",
        )


def blindspots(
    family: Family, *, length: int | None = None, example: str | None = None
) -> BlindspotTable:
    """The table for a family's numbers of one length (by default its first).

    example: a valid number of that length to work the examples from; without one they
        are worked from published numbers.
    Raises CounterfoilError for a length that the family or its check digit rule does not
    have, and for an example that is not valid.
    """
    length = family.lengths[0] if length is None else length
    if length not in family.lengths:
        raise CounterfoilError(
            f"The family {family.name} has no numbers of this length",
            where=length,
            remedy=f"Give one of {', '.join(map(str, family.lengths))}.",
        )
    scheme = scheme_for(family.check_rule, length)
    if scheme is not None and example is not None and not scheme.accepts(example):
        raise CounterfoilError(
            "The example does not pass this family's check digit",
            where=example,
            remedy=f"Give a valid number of {length} characters, or none.",
        )
    rows = table_rows(family, scheme, length, example)
    return BlindspotTable(
        family=family.name,
        check_rule=family.check_rule,
        length=length,
        rows=rows,
        weighted=weighted(rows),
        notes=tuple(_notes(family, scheme)),
    )


def _notes(family: Family, scheme: Scheme | None) -> list[str]:
    notes = [
        "The weights are Verhoeff's counts of 1969 from six-digit numbers, as remembered; "
        "missing and added digits are not among them.",
        "Letters, fixed first digits and whole other numbers are not weighed in.",
    ]
    if scheme is None:
        return ["These numbers have no check digit.", *notes]
    if scheme.digits < scheme.length:
        notes.append(
            "The check digit does not cover the letters: an error in them is never caught by it."
        )
    if family.lengths == (20,):
        notes.append(
            "Where both mod-10 conventions (with and without 91 in front) are accepted, "
            "the check is weaker than these figures."
        )
    return notes

"""Tables counted, for a family as it is or an invented one."""

from __future__ import annotations

from pairing.blindspots import BlindspotTable
from pairing.blindspots.table import notes, weighted
from pairing.errors import CounterfoilError
from pairing.model import Family
from tests.blindspots.engine.rows import table_rows
from tests.blindspots.engine.schemes import scheme_for


def counted(
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
        notes=notes(family),
    )

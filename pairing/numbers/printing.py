"""A number as it is shown to people, and the printed groups of any text."""

from __future__ import annotations

from pairing.model import Number, TrackingNumber
from pairing.numbers.grouping import spaced
from pairing.numbers.recognition import MODULES, family, identify

_FOURS = (4,)
"""The grouping of whatever is of no known family. Common practice, no source: what most of
the families have (BCOCA Reference: human-readable text)."""


def group_sizes(number: Number | str) -> tuple[int, ...]:
    """The printed grouping of a number or of a canonical text: its family's, or that of the
    family that a refused one most resembles; the last size repeats."""
    known = identify(number) if isinstance(number, str) else number
    if isinstance(known, TrackingNumber):
        return known.family.group_sizes
    return family(known.likely).group_sizes if known.likely in MODULES else _FOURS


def printed(number: Number | str | None) -> str:
    """The number, or a text that may be one, as it is printed: a blank between groups. "" where
    there is none."""
    if not number:
        return ""
    known = identify(number) if isinstance(number, str) else number
    return spaced(known.text, group_sizes(known))

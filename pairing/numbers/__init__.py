"""Number families: one module each, all with the verbs `compact`, `validate`, `is_valid`,
`format` and `calc_check_digit`; `identify` finds the family by itself.

`validate` returns a `TrackingNumber` or a `Rejection`; neither it nor `is_valid` raises.
"""

from __future__ import annotations

from pairing.model import Number, Rejection, TrackingNumber
from pairing.numbers.grouping import spaced
from pairing.numbers.recognition import MODULES, family, identify

__all__ = ["MODULES", "family", "identify", "is_number", "printed", "spaced"]


def is_number(text: str) -> bool:
    """Whether `text` is a valid number of any known family."""
    return isinstance(identify(text), TrackingNumber)


def printed(number: Number) -> str:
    """The number as it is printed, in groups; a rejection's text in groups of four."""
    match number:
        case TrackingNumber():
            return spaced(number.text, number.family.group_sizes)
        case Rejection():
            sizes = family(number.likely).group_sizes if number.likely in MODULES else (4,)
            return spaced(number.text, sizes)

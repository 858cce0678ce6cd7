"""Number families: one module each, all with the verbs `compact`, `validate`, `is_valid`,
`format` and `calc_check_digit`; `identify` finds the family by itself.

`validate` returns a `TrackingNumber` or a `Rejection`; neither it nor `is_valid` raises.
"""

from __future__ import annotations

from pairing.model import TrackingNumber
from pairing.numbers.grouping import spaced
from pairing.numbers.printing import group_sizes, printed
from pairing.numbers.recognition import MODULES, family, identify

__all__ = ["MODULES", "family", "group_sizes", "identify", "is_number", "printed", "spaced"]


def is_number(text: str) -> bool:
    """Whether `text` is a valid number of any known family."""
    return isinstance(identify(text), TrackingNumber)

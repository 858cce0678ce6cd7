"""Label against box: what differs, where, and what a check digit would have missed.

`compare` names one copying error; `blindspots` says how often each goes unnoticed by a
family's check digit.
"""

from pairing.compare.alignment import Column
from pairing.compare.blindspots import VERHOEFF_TOTAL, BlindSpot, BlindspotTable, blindspots
from pairing.compare.difference import Comparison, compare
from pairing.compare.kinds import CopyError

__all__ = [
    "VERHOEFF_TOTAL",
    "BlindSpot",
    "BlindspotTable",
    "Column",
    "Comparison",
    "CopyError",
    "blindspots",
    "compare",
]

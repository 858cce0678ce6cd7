"""Which pairing rules an office chose: the one place that says so, for desk, kiosk, photos, audit.

Only the numbers of chosen rules are recognized (`numbers.derived`); by default there are none.
"""

from __future__ import annotations

import os
from collections.abc import Sequence

from pairing.model import Number
from pairing.numbers import derived, identify
from pairing.wedge import WedgeSetup

VARIABLE = "COUNTERFOIL_RULES"
"""The environment variable that has the rules' names, with blanks or commas between them. Photos
are read in processes of their own, which have it as it was when the program began."""


def chosen() -> tuple[str, ...]:
    """The names of the office's rules. Raises RuleMisused for one that there is none of."""
    return derived.checked(os.environ.get(VARIABLE, "").replace(",", " ").split())


def identified(text: str, *, aim: str = "") -> Number:
    """The number that a text is in this office: as `numbers.identify`, and those of its rules."""
    return derived.recognized(identify(text, aim=aim), chosen(), aim=aim)


def wedge_setup(gs_substitutes: Sequence[str] = ()) -> WedgeSetup:
    """What is known of a scanner at one of this office's desks."""
    return WedgeSetup(gs_substitutes=tuple(gs_substitutes), rules=chosen())

"""The reader's own measured errors, which widen a bound."""

from __future__ import annotations

import json
from dataclasses import dataclass
from importlib import resources

from pairing.audit.statistics.bounds import upper_share

BARS_READ, BARS_WRONG = 8794, 0
"""Reads of damaged bars, and how many were wrong (`tests.benchmarks.decode_wrong`, seeds 29,000
to 39,999; figures in DEVELOPERS.md). A wrong "agrees" would take such a read that gives the
label's very number, so the bound on wrong reads is far above the one on wrong "agrees"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReaderRates:
    """The reader's own measured errors, at their bounds.

    bars: wrong reads among reads of bars. line: wrong "agrees" among differing pairs read by
    their shape (print, hand), as calibrated. differs: true pairs called different, read so.
    """

    bars: float
    line: float
    differs: float


def rates(strictness: str) -> ReaderRates:
    """The reader's measured errors, from the model's card."""
    text = resources.files("pairing.photos.written").joinpath("model.json").read_text("utf-8")
    card = json.loads(text)
    return ReaderRates(
        bars=upper_share(BARS_READ, BARS_WRONG, 0.95),
        # The stated rate: the calibration's own is half of it, other hands may take the rest.
        line=float(strictness),
        differs=float(card["false_differs"]),
    )

"""The thresholds that belong to the network in this package."""

from __future__ import annotations

import json
from pathlib import Path

from pairing.errors import CounterfoilError
from pairing.judge.box import STRICTNESS, Thresholds

_CARD = Path(__file__).with_name("model.json")

_DIFFERS_ONE = 12.0
"""e^12 to one. Of 288 right lines by hand on drawn cards (`tests.benchmarks.lost`, seeds 0 to 95,
three levels) 16 were misread in one digit, the surest with e^11 to one. Of the labels that differ
in one digit from 33 lines read right (seeds 200 to 229) 91 in 100 are beaten by more, 81 in 100 of
those whose digits look alike."""


def thresholds(strictness: str = "1e-4") -> Thresholds:
    """For a stated rate of wrong "agrees" among differing pairs, one of `STRICTNESS`."""
    if strictness not in STRICTNESS:
        raise CounterfoilError(
            "No thresholds were worked out for this strictness",
            where=strictness,
            remedy=f"Give one of {', '.join(STRICTNESS)}.",
        )
    found = json.loads(_CARD.read_text(encoding="utf-8"))["thresholds"][strictness]
    return Thresholds(
        agrees=found["agrees"],
        differs=found["differs"],
        differs_sure=found["differs_sure"],
        asks=found["asks"],
        differs_far=found["differs_far"],
        differs_one=_DIFFERS_ONE,
    )

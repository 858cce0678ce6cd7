"""What a blind reading of the box says about the label's number. Pure.

The reading comes in as likelihoods (`Evidence`); which strings are worth comparing comes
from the copying errors. The check digit is used neither to read nor to repair.
"""

from __future__ import annotations

from pairing.judge.box.asked_characters import (
    MOST_ASKED,
    Answered,
    Stretch,
    answered,
    doubts,
    places,
)
from pairing.judge.box.evidence import Evidence, Seen, Thresholds, Unread
from pairing.judge.box.rivals import Rival, dropped, extra, in_place, rivals, substituted
from pairing.judge.box.rule import STRICTNESS, Decision, decide

__all__ = [
    "MOST_ASKED",
    "STRICTNESS",
    "Answered",
    "Decision",
    "Evidence",
    "Rival",
    "Seen",
    "Stretch",
    "Thresholds",
    "Unread",
    "answered",
    "decide",
    "doubts",
    "dropped",
    "extra",
    "in_place",
    "places",
    "rivals",
    "substituted",
]
"""Names that other rooms use."""

"""What a blind reading of the box says about the label's number. Pure.

The reading comes in as likelihoods (`Evidence`); which strings are worth comparing comes
from the copying errors. The check digit is used neither to read nor to repair.
"""

from __future__ import annotations

from pairing.decide.rivals import Rival, rivals
from pairing.decide.rule import STRICTNESS, Decision, Evidence, Thresholds, decide

__all__ = ["STRICTNESS", "Decision", "Evidence", "Rival", "Thresholds", "decide", "rivals"]
"""Names that other rooms use."""

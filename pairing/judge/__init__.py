"""From what was read on a piece to its verdict. Pure: readings, records in; answer out."""

from __future__ import annotations

from pairing.judge.box.weighing import Weighed, weigh
from pairing.judge.verdict import judge

__all__ = ["Weighed", "judge", "weigh"]

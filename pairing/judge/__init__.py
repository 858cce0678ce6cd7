"""From what was read on a piece to its verdict. Pure: readings, records in; answer out.

What makes a piece unread: `verdict` decides it, `findings.codes.Code` lists the reasons.
"""

from __future__ import annotations

from pairing.judge.box.weighing import Weighed, weigh
from pairing.judge.verdict import judge

__all__ = ["Weighed", "judge", "weigh"]

"""From what was read on a piece to its verdict. Pure: readings, records in; answer out."""

from __future__ import annotations

from pairing.judge.verdict import judge

__all__ = ["judge"]

"""Label against box: what differs, where, and which copying error it most likely was."""

from pairing.compare.alignment import Column
from pairing.compare.difference import Comparison, compare
from pairing.compare.kinds import CopyError

__all__ = ["Column", "Comparison", "CopyError", "compare"]

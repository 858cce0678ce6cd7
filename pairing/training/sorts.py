"""The sorts of held-out lines, in the order in which packed files number them."""

from __future__ import annotations

SORTS = ("mnist", "pen", "face", "print", "s10-hand", "s10-print")
"""Real digits of MNIST writers, of pen writers, handwriting faces, print; S10 numbers."""

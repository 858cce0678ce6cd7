"""The sorts of held-out lines and what a line can be, in the order in which files number them."""

from __future__ import annotations

SORTS = (
    "mnist", "pen", "face", "print", "s10-hand", "s10-print",
    "mnist-hard", "pen-hard", "face-hard", "print-hard",
)  # fmt: skip
"""Real digits of MNIST writers, of pen writers, handwriting faces, print; S10 numbers; and the
first four once more as the training writes them: any pen, touching digits, rules and captions at
the edge, cuts a little off (`writing.Writer`, is_clean False)."""

LINE_KINDS = ("number", "print", "writing", "altered")
"""What a line is, as the network's third output numbers it: a number, whoever's it is, by hand or
printed; the form's print (captions, titles, addresses, or nothing but rules and bars); other
writing (words, names, dates, scribbles); a number struck out or altered."""
NUMBER, PRINT, WRITING, ALTERED = range(4)
UNTOLD = -1
"""Too short to tell: the network is not taught what such a line is."""

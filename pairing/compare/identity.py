"""Whole other numbers in the box: the card's own, another piece's, a pad neighbor's."""

from __future__ import annotations

import re

from pairing.compare.kinds import MAX_NUMBER, Pair, Positions, differing
from pairing.numbers.text import is_digits

NEIGHBOR_REACH = 10
"""How far apart two serials of one pad may be to be called neighbors; common practice,
no source (label pads and card stacks are worked through from the top)."""

_S10 = re.compile(r"([A-Z]{2})([0-9]{8})[0-9]([A-Z]{2})")
"""Service indicator, serial, check digit, country of issue (UPU S10-12)."""


def card_own(pair: Pair) -> Positions | None:
    """The box holds the card's own number."""
    return differing(pair) if pair.box == pair.card else None


def other_piece(pair: Pair) -> Positions | None:
    """The box holds the number of another piece."""
    return differing(pair) if pair.box in pair.others else None


def pad_neighbor(pair: Pair) -> Positions | None:
    """The box holds a valid number whose serial is close to the label's."""
    if not pair.box_valid or not pair.diffs:
        return None
    apart = serial_distance(pair.label, pair.box)
    return differing(pair) if apart and abs(apart) <= NEIGHBOR_REACH else None


def serial_distance(label: str, box: str) -> int | None:
    """How far the box's serial is above the label's; None where they are not related.

    Digit numbers are compared as integers without the last digit, the check digit, so
    that 0999|x and 1000|y are neighbors too. S10 letters must be equal.
    """
    if len(label) != len(box) or not 1 < len(label) <= MAX_NUMBER:
        return None
    ours, theirs = _S10.fullmatch(label), _S10.fullmatch(box)
    if ours and theirs:
        is_related = ours[1] == theirs[1] and ours[3] == theirs[3]
        return int(theirs[2]) - int(ours[2]) if is_related else None
    if all(map(is_digits, (label, box))):
        return int(box[:-1]) - int(label[:-1])
    return None

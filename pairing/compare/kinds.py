"""The copying errors, each with an exact definition, and the pair that they speak of."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from enum import StrEnum

from pairing.compare.alignment import aligned
from pairing.findings import Code

MAX_NUMBER = 64
"""Longer texts are no serial numbers (IMpb with routing has 34 digits)."""


MIN_DIGITS_OFF = 2
"""How many digits must be one place off for "shifted". With only one, any two wrong
digits side by side would qualify about one time in five ("ab" to "bx" or "xa")."""


class CopyError(StrEnum):
    """What happened between label and box; a, b, c are characters.

    CARD_OWN: the box holds exactly the card's own number.
    OTHER_PIECE: the box holds exactly the number of another piece of the batch.
    PAD_NEIGHBOR: the box holds a number valid in itself, and without the check digit the
        two numbers, taken as integers, are 1 to 10 apart (S10: equal letters, and the
        8-digit serials 1 to 10 apart).
    ONE_DIGIT: equal length, exactly one place differs.
    ADJACENT_SWAP: ab -> ba, a and b different, nothing else differs.
    JUMP_SWAP: abc -> cba, a and c different, b any; nothing else differs.
    TWIN: aa -> bb, nothing else differs.
    JUMP_TWIN: aca -> bcb, c any; nothing else differs.
    PHONETIC: a0 -> 1a or 1a -> a0 with a = 2..9 (thirty and thirteen); nothing else differs.
    DROPPED: one character of the label is missing, the others are in order.
    EXTRA: one character too many, the label's others are in order.
    TRUNCATED: two or more characters missing, all at the end or all at the beginning, and
        at least one left.
    GROUP_SWAP: any two groups of the printed grouping have changed places, next to each
        other or not, the short tail group included; the groups between are unchanged.
    SHIFTED: equal length; between the first and the last differing place, which are two or
        more apart, the label's characters are one place off: one is lost at one of these
        places and another put in at the other.
    SEVERAL_DIGITS: equal length and none of the above.
    DIFFERENT: unequal length and none of the above.
    """

    CARD_OWN = "card's own number"
    OTHER_PIECE = "another piece's number"
    PAD_NEIGHBOR = "neighbor on the pad"
    ONE_DIGIT = "one digit"
    ADJACENT_SWAP = "adjacent swap"
    JUMP_SWAP = "jump swap"
    TWIN = "twin"
    JUMP_TWIN = "jump twin"
    PHONETIC = "phonetic"
    DROPPED = "dropped digit"
    EXTRA = "extra digit"
    TRUNCATED = "truncated"
    GROUP_SWAP = "groups swapped"
    SHIFTED = "shifted"
    SEVERAL_DIGITS = "several digits"
    DIFFERENT = "different"

    @property
    def code(self) -> Code:
        """The code of the finding that the box has this error."""
        return Code[f"BOX_{self.name}"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two unequal canonical texts and what is known around them.

    diffs: 0-based places that differ, only where the lengths are equal, else empty.
    """

    label: str
    box: str
    group_sizes: tuple[int, ...]
    card: str | None
    others: Collection[str]
    box_valid: bool
    diffs: tuple[int, ...]


Positions = tuple[int, ...]
"""1-based positions in the label's number."""

Detector = Callable[[Pair], Positions | None]
"""Positions where the kind explains the pair, None where it does not."""


def differing(pair: Pair) -> Positions:
    """Positions of the label's characters that have no equal partner in the box."""
    if len(pair.label) == len(pair.box):
        return tuple(index + 1 for index in pair.diffs)
    own = [column for column in aligned(pair.label, pair.box) if column.label is not None]
    return tuple(index for index, column in enumerate(own, 1) if not column.same)

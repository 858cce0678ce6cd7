"""How each copying slip is recognized, and the order in which errors are named.

`PRECEDENCE` is the one table. A kind earlier in it wins; later kinds that explain the
same box equally well are reported beside it. Why this order:

1. *Whole other numbers* (the card's own, another piece's, a neighbor on the pad) come
   before slips of the hand. Such a number always passes its check digit, a slip passes it
   a few times in a hundred; a strip cut from a label cannot hold a slip at all; and
   the consequence is graver, because a second piece is then involved. A slip in the last
   digits can happen to give a neighbor (serial 5 apart and check digit swapped): then the
   neighbor is named and the slip mentioned.
2. The card's own number before another piece's: it is on the paper in hand and can be
   seen at once. Another piece's number before the pad neighbor: the first is known to
   exist, the second is worked out.
3. Slips, most specific first: those that leave least freedom. One digit and the swaps and
   twins of Verhoeff (1969) exclude each other; dropped, extra and truncated differ by
   length; two printed groups swapped leaves no digit free, shifted leaves one.
4. "Several digits" and "different" are what remains, and are never given beside another kind.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from pairing.compare.alignment import aligned
from pairing.compare.identity import card_own, other_piece, pad_neighbor
from pairing.compare.kinds import (
    MAX_NUMBER,
    MIN_DIGITS_OFF,
    CopyError,
    Detector,
    Pair,
    Positions,
    differing,
)
from pairing.numbers.grouping import bounds


def _one_digit(pair: Pair) -> Positions | None:
    return differing(pair) if len(pair.diffs) == 1 else None


def _two_apart(pair: Pair, gap: int) -> tuple[str, str] | None:
    """The label's and the box's characters at exactly two differing places, `gap` apart."""
    match pair.diffs:
        case (i, j) if j - i == gap:
            return pair.label[i] + pair.label[j], pair.box[i] + pair.box[j]
    return None


def _swap(gap: int) -> Detector:
    def detect(pair: Pair) -> Positions | None:
        two = _two_apart(pair, gap)
        return differing(pair) if two and two[0] == two[1][::-1] else None

    return detect


def _twins(gap: int) -> Detector:
    def detect(pair: Pair) -> Positions | None:
        two = _two_apart(pair, gap)
        return differing(pair) if two and all(x[0] == x[1] for x in two) else None

    return detect


def _phonetic(pair: Pair) -> Positions | None:
    two = _two_apart(pair, 1)
    if two is None:
        return None
    orders = (two, (two[1], two[0]))
    sound_alike = any(
        tens[0] in "23456789" and tens[1] == "0" and teens == "1" + tens[0]
        for tens, teens in orders
    )
    return differing(pair) if sound_alike else None


def _dropped(pair: Pair) -> Positions | None:
    if len(pair.box) != len(pair.label) - 1:
        return None
    missing = differing(pair)
    return missing if len(missing) == 1 else None


def _extra(pair: Pair) -> Positions | None:
    """After which position the extra one is; nothing where it is first."""
    if len(pair.box) != len(pair.label) + 1:
        return None
    columns = aligned(pair.label, pair.box)
    lone = [index for index, column in enumerate(columns) if not column.same]
    if len(lone) != 1:
        return None
    return (lone[0],) if lone[0] else ()


def _truncated(pair: Pair) -> Positions | None:
    n, kept = len(pair.label), len(pair.box)
    if not 1 <= kept <= n - 2:
        return None
    if pair.label.startswith(pair.box):
        return tuple(range(kept + 1, n + 1))
    if pair.label.endswith(pair.box):
        return tuple(range(1, n - kept + 1))
    return None


def _group_swap(pair: Pair) -> Positions | None:
    """All positions of the two groups, whichever of their digits differ."""
    if not pair.diffs or len(pair.label) > MAX_NUMBER:
        return None
    cut = bounds(len(pair.label), pair.group_sizes)
    for (a, b), (c, d) in combinations(cut, 2):
        label = pair.label
        if label[:a] + label[c:d] + label[b:c] + label[a:b] + label[d:] == pair.box:
            return (*range(a + 1, b + 1), *range(c + 1, d + 1))
    return None


def shift_ends(label: str, box: str, diffs: Sequence[int]) -> tuple[int, int] | None:
    """(index lost in the label, index put in in the box), 0-based, or None.

    Looking at the first and the last differing place is enough: in any such edit those
    between obey the same shift, and a wider window only adds equal digits.
    """
    if not diffs or diffs[-1] - diffs[0] < MIN_DIGITS_OFF:
        return None
    first, last = diffs[0], diffs[-1]
    if box[first:last] == label[first + 1 : last + 1]:
        return first, last
    if box[first + 1 : last + 1] == label[first:last]:
        return last, first
    return None


def _shifted(pair: Pair) -> Positions | None:
    """From the place of the lost digit to that of the one put in, both included."""
    if shift_ends(pair.label, pair.box, pair.diffs) is None:
        return None
    return tuple(range(pair.diffs[0] + 1, pair.diffs[-1] + 2))


def _several_digits(pair: Pair) -> Positions | None:
    return differing(pair) if pair.diffs else None


PRECEDENCE: tuple[tuple[CopyError, Detector], ...] = (
    (CopyError.CARD_OWN, card_own),
    (CopyError.OTHER_PIECE, other_piece),
    (CopyError.PAD_NEIGHBOR, pad_neighbor),
    (CopyError.ONE_DIGIT, _one_digit),
    (CopyError.ADJACENT_SWAP, _swap(1)),
    (CopyError.JUMP_SWAP, _swap(2)),
    (CopyError.TWIN, _twins(1)),
    (CopyError.JUMP_TWIN, _twins(2)),
    (CopyError.PHONETIC, _phonetic),
    (CopyError.DROPPED, _dropped),
    (CopyError.EXTRA, _extra),
    (CopyError.TRUNCATED, _truncated),
    (CopyError.GROUP_SWAP, _group_swap),
    (CopyError.SHIFTED, _shifted),
    (CopyError.SEVERAL_DIGITS, _several_digits),
    (CopyError.DIFFERENT, differing),
)
"""Most specific first; see the head of this module. The last one always answers."""

CATCH_ALLS = frozenset({CopyError.SEVERAL_DIGITS, CopyError.DIFFERENT})
"""Kinds that only say that no other one fits."""


def explanations(pair: Pair) -> tuple[tuple[CopyError, Positions], ...]:
    """Every kind that explains the pair, in the order of precedence; never empty."""
    found = [
        (error, positions)
        for error, detect in PRECEDENCE
        if (positions := detect(pair)) is not None
    ]
    named = tuple(item for item in found if item[0] not in CATCH_ALLS)
    return named or tuple(found[:1])

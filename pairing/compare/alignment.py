"""Two texts side by side: which character is beside which."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import zip_longest

_MAX_CELLS = 250_000
"""Above this many table cells (two texts of some 500 characters) texts are laid side by
side without looking for the best alignment: no number is that long, and a stuck key must
not stall the counter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of an alignment; None where that side has nothing. Never both None."""

    label: str | None
    box: str | None

    @property
    def same(self) -> bool:
        """Whether both sides show the same character."""
        return self.label == self.box


Columns = tuple[Column, ...]


def side_by_side(label: str, box: str) -> Columns:
    """Character beside character from the left; nothing beside the rest of the longer text."""
    return tuple(Column(label=a, box=b) for a, b in zip_longest(label, box))


def shifted_by_one(label: str, box: str, lost: int, put_in: int) -> Columns:
    """The alignment of a text that lost a character and gained one elsewhere.

    lost: 0-based index in `label` of the character that has no partner.
    put_in: 0-based index in `box` of the character that has no partner.
    """
    left = list(side_by_side(label[:lost] + label[lost + 1 :], box[:put_in] + box[put_in + 1 :]))
    # Columns before the lost character are `lost` many on the label's side, and those
    # before the one put in are `put_in` many on the box's side; insert the later first.
    gaps = [
        (lost, Column(label=label[lost], box=None)),
        (put_in, Column(label=None, box=box[put_in])),
    ]
    for index, column in sorted(gaps, key=lambda gap: gap[0], reverse=True):
        left.insert(index, column)
    return tuple(left)


def aligned(label: str, box: str) -> Columns:
    """A minimal edit alignment (Levenshtein distance; each change, gap costs 1).

    Among the minimal ones a gap is as far to the left as it can, so a digit missing
    from a run of equal digits shows as the first of the run.
    """
    tail = _common_tail(label, box)
    a, b = label[: len(label) - tail], box[: len(box) - tail]
    head = _common_head(a, b)
    return (
        side_by_side(label[:head], box[:head])
        + _middle(a[head:], b[head:])
        + side_by_side(label[len(a) :], box[len(b) :])
    )


def _common_tail(a: str, b: str) -> int:
    return _common_head(a[::-1], b[::-1])


def _common_head(a: str, b: str) -> int:
    for index, (x, y) in enumerate(zip(a, b, strict=False)):
        if x != y:
            return index
    return min(len(a), len(b))


def _middle(a: str, b: str) -> Columns:
    """The alignment of what differs, traced from the right so that gaps go left."""
    if not a or not b or len(a) * len(b) > _MAX_CELLS:
        return side_by_side(a, b)
    cost = _costs(a, b)
    columns: list[Column] = []
    i, j = len(a), len(b)
    while i or j:
        here = cost[i][j]
        if i and j and here == cost[i - 1][j - 1] + (a[i - 1] != b[j - 1]):
            i, j = i - 1, j - 1
            columns.append(Column(label=a[i], box=b[j]))
        elif i and here == cost[i - 1][j] + 1:
            i -= 1
            columns.append(Column(label=a[i], box=None))
        else:
            j -= 1
            columns.append(Column(label=None, box=b[j]))
    return tuple(reversed(columns))


def _costs(a: str, b: str) -> list[list[int]]:
    """cost[i][j]: the least number of edits between a[:i] and b[:j]."""
    cost = [list(range(len(b) + 1))]
    for i, x in enumerate(a, 1):
        above, row = cost[-1], [i]
        for j, y in enumerate(b, 1):
            row.append(min(above[j - 1] + (x != y), above[j] + 1, row[j - 1] + 1))
        cost.append(row)
    return cost

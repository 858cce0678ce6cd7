"""Every number that one copying error makes of a label's number, as far as they are finite.

The kinds are those of `compare.kinds`. "Several digits" and "different" have no end and are
held down by the rule's bound on everything else (`rule.decide`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from pairing.compare import CopyError
from pairing.compare.slips import shift_ends
from pairing.numbers.grouping import bounds

DIGITS = "0123456789"
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rival:
    """A text that the box may hold in place of the label's number, and the error behind it."""

    text: str
    error: CopyError


def rivals(
    label: str,
    *,
    group_sizes: Sequence[int],
    card: str | None = None,
    others: Collection[str] = (),
) -> tuple[Rival, ...]:
    """All of them, each text once (the first error that makes it), the label's own never.

    label: canonical. group_sizes: its printed grouping. card: the card's own number.
    others: numbers of other pieces and neighbors on the pad.
    """
    found: dict[str, CopyError] = {}
    if card:
        found[card] = CopyError.CARD_OWN
    for other in others:
        found.setdefault(other, CopyError.OTHER_PIECE)
    for error, text in _slips(label, group_sizes):
        found.setdefault(text, error)
    found.pop(label, None)
    return tuple(Rival(text=text, error=error) for text, error in found.items())


def _slips(label: str, group_sizes: Sequence[int]) -> Iterator[tuple[CopyError, str]]:
    yield from in_place(label, group_sizes)
    yield from ((CopyError.DROPPED, text) for text in dropped(label))
    yield from ((CopyError.EXTRA, text) for text in extra(label))
    for kept in range(1, len(label) - 1):
        yield CopyError.TRUNCATED, label[:kept]
        yield CopyError.TRUNCATED, label[len(label) - kept :]
    yield from ((CopyError.SHIFTED, text) for text in _shifted(label))


def in_place(label: str, group_sizes: Sequence[int]) -> Iterator[tuple[CopyError, str]]:
    """Slips that change digits in their places. The same slips lead back."""
    for text in substituted(label):
        yield CopyError.ONE_DIGIT, text
    for gap, swap, twin in (
        (1, CopyError.ADJACENT_SWAP, CopyError.TWIN),
        (2, CopyError.JUMP_SWAP, CopyError.JUMP_TWIN),
    ):
        for i in range(len(label) - gap):
            a, b = label[i], label[i + gap]
            yield swap, _put(label, {i: b, i + gap: a})
            if a == b and a in DIGITS:
                for new in DIGITS:
                    yield twin, _put(label, {i: new, i + gap: new})
    yield from ((CopyError.PHONETIC, text) for text in _phonetic(label))
    for (p, q), (r, s) in combinations(bounds(len(label), tuple(group_sizes)), 2):
        swapped = label[:p] + label[r:s] + label[q:r] + label[p:q] + label[s:]
        yield CopyError.GROUP_SWAP, swapped


def substituted(text: str) -> Iterator[str]:
    """One digit is another digit."""
    for i, old in enumerate(text):
        if old in DIGITS:
            yield from (_put(text, {i: new}) for new in DIGITS if new != old)


def dropped(text: str) -> Iterator[str]:
    """One character is missing."""
    return (text[:i] + text[i + 1 :] for i in range(len(text)))


def extra(text: str) -> Iterator[str]:
    """One digit too many."""
    return (text[:i] + new + text[i:] for i in range(len(text) + 1) for new in DIGITS)


def _phonetic(label: str) -> Iterator[str]:
    for i in range(len(label) - 1):
        x, y = label[i], label[i + 1]
        if y == "0" and x in "23456789":
            yield _put(label, {i: "1", i + 1: x})
        if x == "1" and y in "23456789":
            yield _put(label, {i: y, i + 1: "0"})


def _shifted(label: str) -> Iterator[str]:
    """The tail shifted: one digit lost, the last one written twice, or a neighbor doubled to
    make up for it. Other digits put in differ from these in one place and are likelier read
    as such."""
    for i in range(len(label)):
        left = label[:i] + label[i + 1 :]
        for j in range(1, len(left) + 1):
            text = left[:j] + left[j - 1] + left[j:]
            diffs = [k for k, (a, b) in enumerate(zip(label, text, strict=True)) if a != b]
            if shift_ends(label, text, diffs) is not None:
                yield text


def _put(text: str, new: dict[int, str]) -> str:
    return "".join(new.get(index, char) for index, char in enumerate(text))

"""The printed grouping: how a number is cut for the eye.

A USPS number is printed in groups of four with a short tail (BCOCA, modifier X'06',
human-readable text), a UPU S10 number as 2-3-3-3-2 (UPU S10-12, section 8). Words for places in
it are in `findings.wording.places`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import accumulate, pairwise

from pairing.errors import CounterfoilError


def sizes(length: int, group_sizes: Sequence[int]) -> tuple[int, ...]:
    """The sizes of the groups that `length` characters are cut into, all of them.

    The last of `group_sizes` repeats and the tail may be short; no sizes at all mean one group.
    """
    return tuple(_sizes(length, group_sizes))


def _sizes(length: int, group_sizes: Sequence[int]) -> Iterator[int]:
    if any(size < 1 for size in group_sizes):
        raise CounterfoilError(
            "A printed grouping has a group without characters",
            where=tuple(group_sizes),
            remedy="Give every group a size of at least 1.",
        )
    left, index = length, 0
    while left > 0:
        size = group_sizes[min(index, len(group_sizes) - 1)] if group_sizes else left
        yield min(size, left)
        left -= size
        index += 1


def bounds(length: int, group_sizes: Sequence[int]) -> tuple[tuple[int, int], ...]:
    """The groups of `length` characters as 0-based half-open (start, end), by `sizes`."""
    return tuple(pairwise(accumulate(_sizes(length, group_sizes), initial=0)))


def groups(text: str, group_sizes: Sequence[int]) -> tuple[str, ...]:
    """`text` cut into its printed groups; an empty text has none."""
    return tuple(text[start:end] for start, end in bounds(len(text), group_sizes))


def spaced(text: str, group_sizes: Sequence[int]) -> str:
    """`text` as it is printed, a blank between groups."""
    return " ".join(groups(text, group_sizes))

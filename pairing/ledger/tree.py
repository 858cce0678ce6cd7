"""The Merkle tree over the entries, after RFC 9162, section 2.1. Pure; hashes are 32 bytes.

A leaf is hashed with 0x00 in front, a node with 0x01 (RFC 9162, 2.1.1), so that neither can
pass for the other. The tree is kept as the subtrees that each leaf completed: leaf i (from 0)
completes one of every size 2**k that divides i + 1. Any head or proof then needs O(log n)
stored hashes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from hashlib import sha256

HASH_BYTES = 32

EMPTY_ROOT = sha256(b"").digest()
"""The root of no leaves at all (RFC 9162, 2.1.1)."""

Subtree = Callable[[int, int], bytes]
"""(level, index) to the hash of the full subtree over the 2**level leaves from index << level."""


def leaf_hash(data: bytes) -> bytes:
    """The hash of one leaf."""
    return sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """The hash of two subtrees side by side."""
    return sha256(b"\x01" + left + right).digest()


class Frontier:
    """The right edge of a tree that grows: the roots of its full subtrees, largest first."""

    __slots__ = ("peaks", "size")

    def __init__(self, size: int = 0, peaks: Sequence[bytes] = ()) -> None:
        self.size = size
        self.peaks = list(peaks)

    def push(self, leaf: bytes) -> bytes:
        """Add a leaf's hash; the hashes of the subtrees that it completes, smallest first,
        one after the other (32 bytes each)."""
        size = self.size
        self.size = size + 1
        if not size & 1:
            self.peaks.append(leaf)
            return leaf
        completed, peaks = leaf, self.peaks
        while size & 1:
            leaf = sha256(b"\x01" + peaks.pop() + leaf).digest()
            completed += leaf
            size >>= 1
        peaks.append(leaf)
        return completed

    def copy(self) -> Frontier:
        """An edge of its own, with the same leaves behind it."""
        return Frontier(self.size, self.peaks)

    def root(self) -> bytes:
        """The tree's root."""
        if not self.peaks:
            return EMPTY_ROOT
        root = self.peaks[-1]
        for peak in reversed(self.peaks[:-1]):
            root = node_hash(peak, root)
        return root


def edge(size: int) -> list[tuple[int, int]]:
    """(level, index) of the full subtrees that make up a tree of `size` leaves, largest first."""
    found, start = [], 0
    for level in reversed(range(size.bit_length())):
        if size >> level & 1:
            found.append((level, start >> level))
            start += 1 << level
    return found


def root_of(size: int, subtree: Subtree) -> bytes:
    """The root of the first `size` leaves."""
    return Frontier(size, [subtree(level, index) for level, index in edge(size)]).root()


def inclusion(index: int, size: int, subtree: Subtree) -> list[bytes]:
    """The inclusion proof of leaf `index` (from 0) in the first `size` leaves
    (RFC 9162, 2.1.3.1)."""
    path: list[bytes] = []
    start, end = 0, size
    while end - start > 1:
        middle = start + _split(end - start)
        if index < middle:
            path.append(_range_hash(middle, end, subtree))
            end = middle
        else:
            path.append(_range_hash(start, middle, subtree))
            start = middle
    return path[::-1]


def consistency(first: int, second: int, subtree: Subtree) -> list[bytes]:
    """The proof that the first `first` leaves begin the first `second` (RFC 9162, 2.1.4.1)."""
    path: list[bytes] = []
    start, end, is_whole = 0, second, True
    if first in (0, second):
        return []
    while end != first:
        middle = start + _split(end - start)
        if first <= middle:
            path.append(_range_hash(middle, end, subtree))
            end = middle
        else:
            path.append(_range_hash(start, middle, subtree))
            start, is_whole = middle, False
    if not is_whole:
        path.append(_range_hash(start, end, subtree))
    return path[::-1]


def is_included(leaf: bytes, index: int, size: int, path: Sequence[bytes], root: bytes) -> bool:
    """Whether the proof shows `leaf` at `index` under `root` (RFC 9162, 2.1.3.2)."""
    if not 0 <= index < size:
        return False
    place, last, found = index, size - 1, leaf
    for step in path:
        if last == 0:
            return False
        if place & 1 or place == last:
            found = node_hash(step, found)
            while not place & 1 and place:
                place, last = place >> 1, last >> 1
        else:
            found = node_hash(found, step)
        place, last = place >> 1, last >> 1
    return last == 0 and found == root


def is_consistent(
    first: int, second: int, path: Sequence[bytes], first_root: bytes, second_root: bytes
) -> bool:
    """Whether the proof shows that the smaller tree begins the larger (RFC 9162, 2.1.4.2)."""
    if first == second:
        return not path and first_root == second_root
    if not 0 < first < second or not path:
        return first == 0 < second and not path and first_root == EMPTY_ROOT
    steps = [first_root, *path] if first & (first - 1) == 0 else list(path)
    place, last = first - 1, second - 1
    while place & 1:
        place, last = place >> 1, last >> 1
    old = new = steps[0]
    for step in steps[1:]:
        if last == 0:
            return False
        if place & 1 or place == last:
            old, new = node_hash(step, old), node_hash(step, new)
            while not place & 1 and place:
                place, last = place >> 1, last >> 1
        else:
            new = node_hash(new, step)
        place, last = place >> 1, last >> 1
    return last == 0 and old == first_root and new == second_root


def _split(size: int) -> int:
    """The largest power of two smaller than `size` (RFC 9162, 2.1.1)."""
    return int(1 << (size - 1).bit_length() - 1)


def _range_hash(start: int, end: int, subtree: Subtree) -> bytes:
    size = end - start
    if size & (size - 1) == 0:
        return subtree(size.bit_length() - 1, start // size)
    middle = start + _split(size)
    return node_hash(_range_hash(start, middle, subtree), _range_hash(middle, end, subtree))

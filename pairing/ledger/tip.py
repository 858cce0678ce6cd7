"""What an append needs to know of the ledger so far: its last entry and the tree's edge."""

from __future__ import annotations

from dataclasses import dataclass

from pairing.errors import LedgerDamaged
from pairing.ledger.statements import Fetcher
from pairing.ledger.tree import HASH_BYTES, Frontier, edge

NO_LEAF = bytes(HASH_BYTES)
"""Used where there is no entry before."""

_NEAR = 16
"""As many entries of other desks are caught up one by one; beyond, the tip is fetched."""


@dataclass(slots=True)
class Tip:
    """leaf: the last entry's leaf hash. at: its time, "" where there is no entry yet."""

    frontier: Frontier
    leaf: bytes = NO_LEAF
    at: str = ""

    @property
    def size(self) -> int:
        """How many entries there are."""
        return self.frontier.size


def current_tip(known: Tip, fetcher: Fetcher, where: str) -> Tip:
    """The tip as it is now: `known` itself where nobody else has written meanwhile."""
    rows = fetcher.rows(fetcher.statements.last, {})
    if not rows:
        return known if known.size == 0 else Tip(Frontier())
    sequence, at, nodes = rows[0]
    leaf = subtree_in(nodes, 0, sequence - 1, where)
    if sequence == known.size and leaf == known.leaf:
        return known
    if known.size < sequence <= known.size + _NEAR:
        frontier = known.frontier.copy()
        for other, its_nodes in fetcher.rows(fetcher.statements.after, {"sequence": known.size}):
            its_leaf = subtree_in(its_nodes, 0, other - 1, where)
            if other != frontier.size + 1 or frontier.push(its_leaf) != its_nodes:
                break
        else:
            return Tip(frontier, leaf, at)
    peaks = [_subtree(fetcher, level, index, where) for level, index in edge(sequence)]
    return Tip(Frontier(sequence, peaks), leaf, at)


def _subtree(fetcher: Fetcher, level: int, index: int, where: str) -> bytes:
    rows = fetcher.rows(fetcher.statements.nodes, {"sequence": (index + 1) << level})
    return subtree_in(rows[0][0] if rows else b"", level, index, where)


def subtree_in(nodes: object, level: int, index: int, where: str) -> bytes:
    """The hash of the subtree at `level` from the nodes of the entry that completed it."""
    found = b""
    if isinstance(nodes, bytes):
        found = nodes[level * HASH_BYTES : (level + 1) * HASH_BYTES]
    if len(found) != HASH_BYTES:
        raise LedgerDamaged(
            f"The tree's hashes are missing at entry {(index + 1) << level}",
            where=where,
            remedy="Verify the ledger, and go back to the last backup that verifies.",
        )
    return found

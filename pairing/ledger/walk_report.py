"""What a walk over the whole ledger found (`verification`)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

Progress = Callable[[int], None]
"""Called now and then with the number of entries walked so far."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """The first thing that does not match. sequence: the entry it is about.

    code: unreadable, missing, changed, columns, tree, head, signature, truncated,
    heads (one that was signed is gone), key (all heads are signed by keys that no entry
    names), particulars, photo, index.
    """

    sequence: int
    code: str
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What a walk found.

    entries: how many were walked and fit. root: of the tree over them, empty where there is a
    problem. heads: signed heads that fit. keys: the key ids that signed them.

    What is no problem by itself, but should be known: gone: entries whose names and addresses
    are not there though nobody erased them (an import without them has none either).
    photos_gone: likewise, by SHA-256. unrecorded: keys that signed though no entry names
    them, where entries name others. unsigned: keys that entries name and no head is signed by.
    went_on: entries by which an operator went on after tampering was found. witnessed: heads of
    this machine's list and of the witness file that were compared.
    """

    entries: int
    root: bytes
    heads: int
    keys: tuple[str, ...]
    problem: Problem | None
    gone: tuple[int, ...] = ()
    photos_gone: tuple[str, ...] = ()
    unrecorded: tuple[str, ...] = ()
    unsigned: tuple[str, ...] = ()
    went_on: tuple[int, ...] = ()
    witnessed: int = field(default=0, compare=False)

    @property
    def is_clean(self) -> bool:
        """Whether everything matches."""
        return self.problem is None

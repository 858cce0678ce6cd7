"""Gather the entries that belong together: what an entry refers to, and what refers to it."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from pairing.ledger.entries import Entry

Fetch = Callable[[int], Iterable[Entry]]


def gather(seeds: Iterable[Entry], *, one: Fetch, referring: Fetch) -> list[Entry]:
    """The seeds and whatever hangs together with them, in the order of sequence.

    one: the entry with a sequence (none or one). referring: those that refer to it.
    """
    held = {entry.sequence: entry for entry in seeds}
    todo = list(held.values())
    while todo:
        entry = todo.pop()
        nearby = list(referring(entry.sequence))
        if entry.refers is not None and entry.refers not in held:
            nearby += one(entry.refers)
        for other in nearby:
            if other.sequence not in held:
                held[other.sequence] = other
                todo.append(other)
    return [held[sequence] for sequence in sorted(held)]

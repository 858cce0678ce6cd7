"""What the library raises, and nothing else leaves it.

A wrong or mismatching number is a value (`model.Rejection`, `model.Finding`).
An exception means that the job itself could not be done: it says what failed,
where, and what to do next.
"""

from __future__ import annotations


class CounterfoilError(Exception):
    """The job could not be done.

    what: what failed, a short sentence without a full stop.
    where: the thing it failed on (a path, a line, a setting); shown with repr().
    remedy: what to do next, one sentence.
    """

    def __init__(self, what: str, *, where: object, remedy: str) -> None:
        self.what = what
        self.where = where
        self.remedy = remedy
        super().__init__(f"{what}: {where!r}. {remedy}")

    def __reduce__(self) -> tuple[object, ...]:
        # Keyword-only arguments do not survive Exception's own pickling, and
        # these errors cross process borders.
        return (_rebuild, (type(self), self.what, self.where, self.remedy))


def _rebuild(
    kind: type[CounterfoilError], what: str, where: object, remedy: str
) -> CounterfoilError:
    return kind(what, where=where, remedy=remedy)


class PhotoUnusable(CounterfoilError):
    """A file that cannot be opened as a photo (missing, damaged, locked, too large)."""


class EngineMissing(CounterfoilError):
    """A decoder that cannot be loaded on this machine."""


class TableUnusable(CounterfoilError):
    """A CSV list (pieces, expected pairs) that cannot be used."""


class OutputRefused(CounterfoilError):
    """A result that cannot be written where it was asked for."""


class ReadersLost(CounterfoilError):
    """What reads the photos, other machines say, is gone in the middle of a run."""


class NotCalculable(CounterfoilError):
    """A check digit asked for over something that is not the digits it covers."""


class UnknownFamily(CounterfoilError):
    """A family name that no module answers to."""


class RuleMisused(CounterfoilError):
    """A pairing rule that there is none of, or one used on a number that it is not for."""


class LedgerUnusable(CounterfoilError):
    """The ledger cannot be opened, read or written (full, read-only, locked, out of reach,
    made by a newer version). Nothing that was not acknowledged has been recorded."""


class LedgerDamaged(LedgerUnusable):
    """What the ledger holds is not what was written."""


class EntryRefused(CounterfoilError):
    """An entry that must not be recorded as it was offered, such as a pairing without an
    agreeing verdict. The caller is at fault, not the piece."""


class KeyReused(EntryRefused):
    """An idempotency key that was used for something else."""


class ProofUnusable(CounterfoilError):
    """A proof file that cannot be read, or that cannot be made for this number."""

"""Samples drawn apart from each desk, day or operator, and what they say together.

The combined bound rests on Hoeffding (1956, Annals of Mathematical Statistics 27, theorem 5): of
independent trials with unequal chances, few successes are never likelier than of as many trials
with the mean chance, as long as "few" is no more than the mean less one. A sample without putting
back is such a sum too (Vatutin and Mikhailov 1982, Theory of Probability 27); both from memory,
the bound checked by whole enumeration in tests/audit/test_sample_plans.py. So the bound of Clopper
and Pearson on all drawn pieces holds, whichever strata the bad ones lie in; it takes no credit for
a finite lot.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pairing.audit.statistics.bounds import upper_share
from pairing.errors import NotCalculable


@dataclass(frozen=True, slots=True, kw_only=True)
class Stratum:
    """Pieces of one kind: how many there are in the lot, those drawn of them, and the next by the
    same draw, which stand in for void ones in that order."""

    name: str
    lot: int
    pieces: tuple[str, ...]
    spares: tuple[str, ...] = ()


def allocate(sizes: Mapping[str, int], size: int) -> dict[str, int]:
    """Of each stratum its part of `size`, in proportion and rounded up, so that none is drawn less
    than the others by rounding; in all `size` pieces or a few more. sizes: pieces of each."""
    lot = sum(sizes.values())
    return {name: min(many, -(-size * many // lot)) for name, many in sizes.items()}


def combined_upper(
    drawn: Sequence[tuple[int, int]], bad: int, *, confidence: float = 0.95
) -> float:
    """The share of bad pieces in all strata together that is not exceeded.

    drawn: of each stratum its pieces in the lot, and those checked. bad: bad ones among all those
    checked. Where strata are not drawn in proportion, the one drawn least widens the bound.
    Raises NotCalculable for a stratum of which nothing was checked.
    """
    if any(not 0 < checked <= lot for lot, checked in drawn):
        raise NotCalculable(
            "These strata cannot be put together",
            where=tuple(drawn),
            remedy="Check one piece or more of each.",
        )
    lot, checked = (sum(one[k] for one in drawn) for k in (0, 1))
    if checked == lot:
        return bad / lot
    widest = max((one / lot) / (part / checked) for one, part in drawn)
    # The theorem asks for a mean of one more than was found.
    upper = max(upper_share(checked, bad, confidence), (bad + 1) / checked)
    return min(1.0, widest * upper)


def stratified_size(
    sizes: Mapping[str, int], *, share: float, confidence: float, allowed: int = 0
) -> dict[str, int]:
    """The fewest pieces of each stratum, in proportion, that show with at most `allowed` bad ones
    that at most `share` of the lot is bad."""
    low, high = max(len(sizes), allowed + 1), sum(sizes.values())

    def shown(size: int) -> bool:
        wanted = allocate(sizes, size)
        drawn = [(many, wanted[name]) for name, many in sizes.items()]
        return combined_upper(drawn, allowed, confidence=confidence) <= share

    if low > high or not shown(high):
        raise NotCalculable(
            "In a lot of this size no sample can show that",
            where=f"{allowed:,} bad of {high:,} pieces",
            remedy="Allow fewer bad ones, or a larger share.",
        )
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if shown(middle) else (middle + 1, high)
    # Rounding lets the bound rise and fall by a piece or two: go on to a size that shows it.
    while not shown(low):
        low += 1
    return allocate(sizes, low)

"""How many pieces to check, and which ones."""

from __future__ import annotations

import hashlib
import heapq
import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from pairing.audit.statistics.bounds import is_rare
from pairing.errors import NotCalculable

LETTERS = "ABCDEFGHJKLMNPQR"
"""ISO 2859-1's code letters; I and O are left out."""

LETTER_SIZES = (2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000)
"""Sample sizes of the letters, single sampling (ISO 2859-1:1999, table 2-A)."""

_LEVEL_II = (8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000)
"""Largest lots of the letters A to P under general inspection level II (table 1)."""

AQLS = (
    "0.010", "0.015", "0.025", "0.040", "0.065", "0.10", "0.15", "0.25",
    "0.40", "0.65", "1.0", "1.5", "2.5", "4.0", "6.5", "10",
)  # fmt: skip
"""Acceptable quality limits of table 2-A, percent nonconforming."""

_ACCEPT = {14: 0, 17: 1, 18: 2, 19: 3, 20: 5, 21: 7, 22: 10, 23: 14, 24: 21}
"""Acceptance number by the diagonal of table 2-A (place of the letter and place of the AQL,
both from 0, added up). The table's build is from memory; the points that are published in
`tests/audit/test_sampling.py` hold."""
_ZERO, _ONE, _MOST = 14, 17, 24


@dataclass(frozen=True, slots=True, kw_only=True)
class AqlPlan:
    """A single sampling plan for normal inspection, general level II.

    letter: by the lot's size; used: the letter after the table's arrows. accept: the lot
    passes with at most so many bad ones. chances: P(the lot passes) at shares of bad ones.
    """

    letter: str
    used: str
    size: int
    aql: str
    accept: int

    @property
    def reject(self) -> int:
        """The lot is refused from so many bad ones on."""
        return self.accept + 1

    def chance_to_pass(self, share: float) -> float:
        """P(the lot passes) if this share of it is bad; binomial, as the standard has it."""
        return sum(
            math.comb(self.size, k) * share**k * (1 - share) ** (self.size - k)
            for k in range(self.accept + 1)
        )


def sample_size(
    *, share: str | Fraction, confidence: str | Fraction, lot: int | None = None, allowed: int = 0
) -> int:
    """The fewest pieces to check so that, if at most `allowed` bad ones are among them, the
    share of bad pairs is at most `share` with this confidence.

    share, confidence: decimals as text ("0.01"), or fractions, so that "1 % of 1,000" is
    exactly ten. lot: the number of pieces; None counts as endless (binomial).
    Raises NotCalculable where no sample can show it.
    """
    risk, most = 1 - _between(confidence, "confidence"), _between(share, "share")
    if allowed < 0:
        raise NotCalculable(
            "A number of bad ones below zero", where=allowed, remedy="Give 0 or more."
        )
    if lot is None:
        return _endless(float(most), float(risk), allowed)
    return discovery_size(lot, math.floor(most * lot) + 1, confidence=confidence, allowed=allowed)


def discovery_size(
    lot: int, bad: int, *, confidence: str | Fraction = "0.95", allowed: int = 0
) -> int:
    """The fewest pieces to check so that a lot with `bad` bad ones, or more, shows more than
    `allowed` of them with this confidence (hypergeometric). Raises NotCalculable."""
    risk = 1 - _between(confidence, "confidence")
    if lot < 1 or not allowed < bad <= lot:
        raise NotCalculable(
            "In a lot of this size no sample can show that",
            where=f"{bad:,} bad of {lot:,} pieces, {allowed:,} allowed in the sample",
            remedy="Check every piece, or allow fewer bad ones.",
        )
    low, high = 1, lot
    while low < high:
        middle = (low + high) // 2
        if is_rare(lot, bad, middle, allowed, risk=risk):
            high = middle
        else:
            low = middle + 1
    return low


def aql_plan(lot: int, aql: str) -> AqlPlan:
    """The plan of ISO 2859-1 (normal inspection, general level II, single sampling).

    aql: one of `AQLS`. Raises NotCalculable for other ones and for lots under 2.
    """
    if lot < 2:
        raise NotCalculable("A lot has two pieces or more", where=lot, remedy="Check it whole.")
    if aql not in AQLS:
        raise NotCalculable(
            "The standard has no such acceptable quality limit",
            where=aql,
            remedy=f"Give one of {', '.join(AQLS)} (percent).",
        )
    own = next((i for i, most in enumerate(_LEVEL_II) if lot <= most), len(_LEVEL_II))
    diagonal = own + AQLS.index(aql)
    used = own
    if diagonal < _ZERO:  # the arrow down: the first plan below it accepts 0
        used += _ZERO - diagonal
    elif diagonal == _ZERO + 1:  # the arrow up; above letter A there is nothing: it points down
        used += 2 if own == 0 else -1
    elif diagonal == _ONE - 1:  # the arrow down
        used += 1
    elif diagonal > _MOST:  # the arrow up
        used -= diagonal - _MOST
    # There is no plan below the table's last row: the largest sample is used.
    used = min(used, len(LETTERS) - 1)
    accept = _ACCEPT.get(used + AQLS.index(aql), 0)
    return AqlPlan(
        letter=LETTERS[own],
        used=LETTERS[used],
        size=min(lot, LETTER_SIZES[used]),
        aql=aql,
        accept=accept,
    )


class Ranking:
    """Draws `size` names, each as likely as any other.

    The names are ranked by SHA-256 of "seed", a colon and the name, and the first are taken:
    whoever has seed and list can draw the same sample again, in any language. A name that
    comes twice counts once. Keeps only the sample in memory.
    """

    def __init__(self, size: int, *, seed: str) -> None:
        self._size, self._seed = size, seed
        self._kept: list[tuple[int, int, str]] = []
        self._held: set[str] = set()
        self._place = 0

    def add(self, name: str) -> None:
        """The next name of the list."""
        self._place += 1
        if name in self._held:
            return
        rank = int.from_bytes(hashlib.sha256(f"{self._seed}:{name}".encode()).digest())
        if len(self._kept) < self._size:
            heapq.heappush(self._kept, (-rank, self._place, name))
        elif self._kept and rank < -self._kept[0][0]:
            _, _, gone = heapq.heapreplace(self._kept, (-rank, self._place, name))
            self._held.discard(gone)
        else:
            return
        self._held.add(name)

    def drawn(self) -> tuple[str, ...]:
        """The sample, in the order of the list."""
        return tuple(name for _, _, name in sorted(self._kept, key=lambda item: item[1]))

    def parts(self, *sizes: int) -> tuple[tuple[str, ...], ...]:
        """The first so many by rank in the order of the list, then the next, and so on; what is
        left in the order of the ranks."""
        ranked = sorted(self._kept, key=lambda item: -item[0])
        parts, start = [], 0
        for size in sizes:
            part = sorted(ranked[start : start + size], key=lambda item: item[1])
            parts.append(tuple(name for _, _, name in part))
            start += size
        return (*parts, tuple(name for _, _, name in ranked[start:]))


def draw(names: Iterable[str], size: int, *, seed: str) -> tuple[str, ...]:
    """A sample of the names, as `Ranking` draws it."""
    ranking = Ranking(size, seed=seed)
    for name in names:
        ranking.add(name)
    return ranking.drawn()


def _endless(share: float, risk: float, allowed: int) -> int:
    from scipy.stats import binom  # noqa: PLC0415 - costs most of a second

    low, high = 1, 1
    while binom.cdf(allowed, high, share) > risk:
        low, high = high, 2 * high
    while low < high:
        middle = (low + high) // 2
        if binom.cdf(allowed, middle, share) <= risk:
            high = middle
        else:
            low = middle + 1
    return low


def _between(given: str | Fraction, what: str) -> Fraction:
    try:
        value = Fraction(given)
    except (ValueError, ZeroDivisionError):
        value = Fraction(0)
    if not 0 < value < 1:
        raise NotCalculable(
            f"This is no {what}", where=str(given), remedy="Give a number between 0 and 1."
        )
    return value

"""Plans fixed before anything is checked: how many pieces, in one stage or two, how many bad ones
they may hold, and how likely such a plan accepts a good lot or a bad one."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from pairing.audit.statistics.sampling import sample_size
from pairing.errors import NotCalculable

MOST_ALLOWED = 200
"""More bad pieces than this in a sample are not planned for: the expected share is then so near
the tolerable one that no auditor's table goes on either."""

_PARTS = (0, 0.1, 0.25, 0.5, 0.75, 1, 1.5, 2, 3)
"""Of the share that is to be refused: where a plan's power is shown."""


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage: `size` more pieces; at most `accept` bad ones so far: the plan accepts; `reject`
    or more: it refuses; in between the next stage is drawn (after the last there is none)."""

    size: int
    accept: int
    reject: int


def attribute_plan(
    *, tolerable: str, expected: str, confidence: str, lot: int | None = None
) -> tuple[int, int]:
    """The fewest pieces to check, and how many of them may be bad, so that a lot with more than
    the tolerable share of bad pieces passes with a chance of at most 1 - confidence, and one with
    the expected share holds on average no more bad ones than are allowed.

    tolerable, expected: shares as decimal text. lot: pieces; None counts as endless. This is how
    the AICPA's tables for tests of controls are built (Audit Guide Audit Sampling, appendix A;
    from memory, checked in tests/audit/test_plans.py). Raises NotCalculable.
    """
    rate = Fraction(expected)
    if not 0 <= rate < Fraction(tolerable):
        raise NotCalculable(
            "The expected share must lie below the tolerable one",
            where=f"{expected} of {tolerable}",
            remedy="Expect fewer bad pieces, or check every piece.",
        )
    for allowed in range(MOST_ALLOWED + 1):
        size = sample_size(share=tolerable, confidence=confidence, lot=lot, allowed=allowed)
        if rate * size <= allowed:
            return size, allowed
    raise NotCalculable(
        "The expected share is too near the tolerable one for a sample",
        where=f"{expected} of {tolerable}",
        remedy="Check every piece, or expect fewer bad ones.",
    )


def two_stage_plan(
    *, share: str, confidence: str, lot: int | None = None, allowed: int = 1
) -> tuple[Stage, Stage]:
    """Two stages of equal size: none bad in the first accepts, more than `allowed` refuses, and
    what lies between is decided by the second, where `allowed` in all accept. The smallest size
    at which a lot with more than `share` bad pieces is accepted, in either stage, with a chance of
    at most 1 - confidence. Raises NotCalculable."""
    if allowed < 1:
        raise NotCalculable(
            "A second stage needs a bad piece that may be found",
            where=allowed,
            remedy="Allow one bad piece or more, or draw one sample.",
        )
    risk = float(1 - Fraction(confidence))
    least_bad = None if lot is None else math.floor(Fraction(share) * lot) + 1
    high = sample_size(share=share, confidence=confidence, lot=lot, allowed=allowed)
    if lot is not None and (2 * high > lot or least_bad is None):
        raise NotCalculable(
            "The lot is too small for two stages",
            where=lot,
            remedy="Draw one sample, or check every piece.",
        )
    low = 1
    while low < high:
        middle = (low + high) // 2
        chance = chance_to_accept(
            two_stages(middle, allowed), bad=least_bad, share=float(share), lot=lot
        )
        if chance <= risk * (1 - 1e-9):  # a tie counts against the plan
            high = middle
        else:
            low = middle + 1
    return two_stages(low, allowed)


def two_stages(size: int, allowed: int) -> tuple[Stage, Stage]:
    """Two stages of `size` pieces each, as `two_stage_plan` makes them."""
    return Stage(size, 0, allowed + 1), Stage(size, allowed, allowed + 1)


def chance_to_accept(
    stages: tuple[Stage, ...], *, share: float, lot: int | None = None, bad: int | None = None
) -> float:
    """The chance that the plan accepts a lot of which this share is bad: its power against a bad
    lot is 1 minus that.

    lot: pieces, of which `bad` are bad (by default the share of them, rounded); None counts as
    endless. Any number of stages.
    """
    if lot is not None and bad is None:
        bad = round(share * lot)
    ways: dict[int, float] = {0: 1.0}  # bad ones so far: chance to be there, still undecided
    accepted, checked = 0.0, 0
    for stage in stages:
        reached: dict[int, float] = {}
        for found, chance in ways.items():
            law = _law(stage.size, share, lot, (bad or 0) - found, checked)
            for more in range(stage.reject - found):
                reached[found + more] = reached.get(found + more, 0.0) + chance * law.pmf(more)
        checked += stage.size
        accepted += sum(chance for found, chance in reached.items() if found <= stage.accept)
        ways = {found: chance for found, chance in reached.items() if found > stage.accept}
    return float(accepted)


def power(
    stages: tuple[Stage, ...], *, share: float, lot: int | None = None
) -> list[tuple[float, float]]:
    """Shares of bad pieces, from none to three times the one that is to be refused, each with
    the chance that the plan accepts such a lot."""
    shares = [min(share * part, 1.0) for part in _PARTS]
    if lot is not None:  # of a lot, the fewest bad pieces that are too many
        shares[_PARTS.index(1)] = (math.floor(Fraction(str(share)) * lot) + 1) / lot
    return [(one, chance_to_accept(stages, share=one, lot=lot)) for one in dict.fromkeys(shares)]


def second_stage_bounds(
    stages: tuple[Stage, Stage], bad: int, *, confidence: float, lot: int | None = None
) -> tuple[float, float, float]:
    """Upper bound, and the two-sided interval, of the share of bad pieces once the second stage
    is checked, with `bad` in both: the shares at which an outcome no worse (accepted in the first
    stage, or no more than `bad` in both) has a chance of more than 1 - confidence; half of it on
    each side. Stagewise ordering (Jennison and Turnbull, Group Sequential Methods, 1999, 8.4;
    from memory)."""
    first, second = stages

    def no_worse(share: float, found: int) -> float:
        plan = (first, Stage(second.size, found, found + 1))
        return chance_to_accept(plan, share=share, lot=lot)

    side = (1 - confidence) / 2
    upper = _crossing(lambda share: no_worse(share, bad) > 1 - confidence, lot)
    high = _crossing(lambda share: no_worse(share, bad) > side, lot)
    low = _crossing(lambda share: 1 - no_worse(share, bad - 1) <= side, lot)
    return upper, low, high


def _crossing(holds: Callable[[float], bool], lot: int | None) -> float:
    """The largest share at which it holds, where it holds from 0 up to somewhere; of a lot a
    whole number of pieces."""
    scale = lot or 10**9
    low, high = 0, scale
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if holds(middle / scale) else (low, middle - 1)
    return low / scale


def _law(size: int, share: float, lot: int | None, bad_left: int, checked: int) -> Any:
    from scipy.stats import binom, hypergeom  # noqa: PLC0415 - costs most of a second

    if lot is None:
        return binom(size, share)
    left = lot - checked
    return hypergeom(left, min(max(bad_left, 0), left), min(size, left))

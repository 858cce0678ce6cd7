"""Plans, selections and bounds of the audit against scipy, on random cases.

    python -m tests.benchmarks.plans [CASES [SEED]]

References: scipy.stats (binom, hypergeom, beta), whole-number arithmetic (math.comb) where
floating point cannot decide, and plain loops where the program searches.
"""

from __future__ import annotations

import math
import random
import sys
import time
from collections.abc import Callable
from fractions import Fraction

import numpy as np
from scipy.stats import beta, binom, hypergeom

from pairing.audit.statistics import bounds, plans, sampling, selection, strata
from pairing.errors import NotCalculable

_SHARES = ("0.01", "0.02", "0.03", "0.05", "0.08", "0.1", "0.15")
_CONFIDENCES = ("0.8", "0.9", "0.95", "0.99")


def _tail(most: int, size: int, share: str, lot: int | None, bad: int) -> Fraction:
    """P(at most so many bad ones): by scipy; of a lot in whole numbers."""
    if lot is None:
        return Fraction(float(binom.cdf(most, size, float(share))))
    ways = sum(
        math.comb(bad, k) * math.comb(lot - bad, size - k) for k in range(min(most, size) + 1)
    )
    exact = Fraction(ways, math.comb(lot, size))
    assert math.isclose(exact, hypergeom.cdf(most, lot, bad, size), rel_tol=1e-6, abs_tol=1e-9)
    return exact


def _of_plan(rng: random.Random) -> tuple[str, str, int | None, int]:
    share, confidence = rng.choice(_SHARES), rng.choice(_CONFIDENCES)
    lot = rng.choice((None, rng.randint(20, 2000)))
    bad = math.floor(Fraction(share) * lot) + 1 if lot else 0
    return share, confidence, lot, bad


def _size(rng: random.Random) -> str:
    share, confidence, lot, bad = _of_plan(rng)
    allowed, risk = rng.randint(0, 3), 1 - Fraction(confidence)
    try:
        size = sampling.sample_size(share=share, confidence=confidence, lot=lot, allowed=allowed)
    except NotCalculable:
        return "" if lot is not None and allowed >= bad else "refused"
    fits = _tail(allowed, size, share, lot, bad) <= risk
    less = size == 1 or _tail(allowed, size - 1, share, lot, bad) > risk
    return "" if fits and less else f"size {share} {confidence} {lot} {allowed}: {size}"


def _attribute(rng: random.Random) -> str:
    share, confidence, lot, bad = _of_plan(rng)
    expected = str(Fraction(share) * rng.randint(0, 5) / 10)
    try:
        size, allowed = plans.attribute_plan(
            tolerable=share, expected=expected, confidence=confidence, lot=lot
        )
    except NotCalculable:
        # Of so small a lot no number that may be found leaves the expected share its room.
        few = all(
            Fraction(expected) * n > k
            for k in range(bad)
            for n in [sampling.sample_size(share=share, confidence=confidence, lot=lot, allowed=k)]
        )
        return "" if few else f"attribute refused {share} {expected} {confidence} {lot}"
    risk = 1 - Fraction(confidence)
    fits = _tail(allowed, size, share, lot, bad) <= risk
    holds = Fraction(expected) * size <= allowed
    before = allowed == 0 or _tail(allowed - 1, math.ceil(size), share, lot, bad) < risk
    return "" if fits and holds and before else f"attribute {share} {expected}: {size} {allowed}"


def _two_stages(rng: random.Random) -> str:
    share, confidence, lot, bad = _of_plan(rng)
    allowed = rng.randint(1, 3)
    try:
        stages = plans.two_stage_plan(share=share, confidence=confidence, lot=lot, allowed=allowed)
    except NotCalculable:
        return ""

    def chance(size: int) -> float:
        if lot is None:
            one, two = (binom(size, float(share)),), binom(size, float(share))
            more = sum(one[0].pmf(k) * two.cdf(allowed - k) for k in range(1, allowed + 1))
            return float(one[0].pmf(0) + more)
        law = hypergeom(lot, bad, size)
        more = sum(
            law.pmf(k) * hypergeom.cdf(allowed - k, lot - size, bad - k, size)
            for k in range(1, min(allowed, bad) + 1)
        )
        return float(law.pmf(0) + more)

    risk, size = 1 - float(confidence), stages[0].size
    right = chance(size) <= risk and (size == 1 or chance(size - 1) > risk * (1 - 1e-8))
    return "" if right else f"two stages {share} {confidence} {lot} {allowed}: {stages}"


def _bound(rng: random.Random) -> str:
    checked, confidence = rng.randint(1, 300), rng.choice(_CONFIDENCES)
    bad = min(checked, rng.choice((0, 0, 1, 2, 5, checked)))
    lot = rng.choice((None, checked + rng.randint(0, 700)))
    found = bounds.bounds(checked, bad, confidence=float(confidence), lot=lot)
    side = (1 + float(confidence)) / 2
    if lot is None:
        upper = 1.0 if bad == checked else beta.ppf(float(confidence), bad + 1, checked - bad)
        high = 1.0 if bad == checked else beta.ppf(side, bad + 1, checked - bad)
        low = 0.0 if bad == 0 else beta.ppf(1 - side, bad, checked - bad + 1)
    else:
        risk = 1 - Fraction(confidence)
        upper = _most(lot, checked, bad, risk) / lot
        high = _most(lot, checked, bad, risk / 2) / lot
        low = (lot - _most(lot, checked, checked - bad, risk / 2)) / lot
    right = np.allclose((found.upper, found.low, found.high), (upper, low, high), atol=1e-9)
    return "" if right else f"bound {checked} {bad} {confidence} {lot}: {found}"


def _most(lot: int, checked: int, bad: int, risk: Fraction) -> int:
    """The most bad pieces of a lot at which so few are not rare: every number tried."""
    numbers = np.arange(bad, lot - (checked - bad) + 1)
    chances = hypergeom.cdf(bad, lot, numbers, checked)
    for number, chance in zip(numbers[::-1], chances[::-1], strict=True):
        is_tie = abs(chance - float(risk)) < 1e-9
        exact = _tail(bad, checked, "0", lot, int(number)) if is_tie else Fraction(chance)
        if exact > risk:
            return int(number)
    return bad


def _second_stage(rng: random.Random) -> str:
    size, allowed, lot = rng.randint(10, 60), rng.randint(1, 2), rng.randint(150, 400)
    confidence = float(rng.choice(_CONFIDENCES))
    bad = rng.randint(1, allowed + 2)
    upper, _, _ = plans.second_stage_bounds(
        (plans.Stage(size, 0, bad + 2), plans.Stage(size, allowed, allowed + 1)),
        bad, confidence=confidence, lot=lot,
    )  # fmt: skip
    # Every number of bad pieces in the lot that leaves "no worse" more than the risk.
    numbers = np.arange(0, lot + 1)
    chance = hypergeom.pmf(0, lot, numbers, size)
    for k in range(1, bad + 1):
        left = np.maximum(numbers - k, 0)
        more = hypergeom.cdf(bad - k, lot - size, left, size)
        chance += np.where(numbers >= k, hypergeom.pmf(k, lot, numbers, size) * more, 0)
    right = numbers[chance > 1 - confidence].max() / lot
    return "" if math.isclose(upper, right) else f"second stage {size} {bad} {lot}: {upper} {right}"


def _strata(rng: random.Random) -> str:
    """Whatever lies in which stratum, the combined bound misses no oftener than it says."""
    parts = [rng.randint(3, 9) for _ in range(rng.choice((2, 3)))]
    share = rng.choice((0.3, 0.5, 0.8))
    drawn = [(lot, max(1, math.ceil(share * lot))) for lot in parts]
    confidence = float(rng.choice(_CONFIDENCES))
    inside = [rng.randint(0, lot) for lot in parts]
    law = np.ones(1)
    for (lot, checked), bad in zip(drawn, inside, strict=True):
        law = np.convolve(law, hypergeom.pmf(np.arange(checked + 1), lot, bad, checked))
    truth = sum(inside) / sum(parts)
    missed = sum(
        chance
        for found, chance in enumerate(law)
        if strata.combined_upper(drawn, found, confidence=confidence) < truth - 1e-12
    )
    return "" if missed <= 1 - confidence + 1e-9 else f"strata {drawn} {inside}: {missed}"


def _value(rng: random.Random) -> str:
    """Each point found again by its place in the running total."""
    values = [Fraction(rng.choice((0, rng.randint(1, 5000), 10**5)), 100) for _ in range(50)]
    if not (total := sum(values, Fraction(0))):
        return ""
    size, seed = rng.randint(1, 40), str(rng.random())
    named = [(str(n), value) for n, value in enumerate(values)]
    found = selection.by_value(named, total=total, size=size, seed=seed)
    tops = np.cumsum([float(value) for value in values])
    wanted: dict[str, int] = {}
    for cell in range(size):
        point = (cell + float(selection.chance(seed, f"cell {cell}"))) * float(total) / size
        name = str(int(np.searchsorted(tops, point, side="right")))
        wanted[name] = wanted.get(name, 0) + 1
    return "" if found == wanted else f"value {seed}"


def _aql(rng: random.Random) -> str:
    plan = sampling.aql_plan(rng.randint(2, 600_000), rng.choice(sampling.AQLS))
    share = rng.random() / 5
    right = math.isclose(plan.chance_to_pass(share), binom.cdf(plan.accept, plan.size, share),
                         rel_tol=1e-6, abs_tol=1e-12)  # fmt: skip
    return "" if right else f"aql {plan} {share}"


KINDS: tuple[Callable[[random.Random], str], ...] = (
    _size, _attribute, _two_stages, _bound, _second_stage, _strata, _value, _aql,
)  # fmt: skip


def failures(cases: int, *, seed: int) -> list[str]:
    """What came out otherwise than the reference, in words."""
    rng = random.Random(seed)
    found = (KINDS[n % len(KINDS)](rng) for n in range(cases))
    return [one for one in found if one]


def main() -> None:
    """Run as many cases as asked for."""
    given = [*map(int, sys.argv[1:])]
    cases, seed = (given + [2000, 7][len(given) :])[:2]
    began = time.monotonic()
    wrong = failures(cases, seed=seed)
    for one in wrong:
        print(one)
    print(f"{cases} cases, {len(wrong)} otherwise than the reference; "
          f"{time.monotonic() - began:.0f} s")  # fmt: skip


if __name__ == "__main__":
    main()

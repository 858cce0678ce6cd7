"""Plans of one stage and two, and their power, against published tables and scipy."""

from __future__ import annotations

import pytest
from scipy.stats import binom, hypergeom

from pairing.audit.statistics import plans
from pairing.audit.statistics.bounds import percent, upper_share
from pairing.audit.statistics.plans import Stage
from pairing.errors import NotCalculable
from tests.benchmarks import plans as references

# AICPA, Audit Guide Audit Sampling, appendix A: tables A-1 (5 % risk) and A-2 (10 %), sample size
# and expected number of deviations by expected and tolerable rate; from memory.
AICPA = [
    ("0.95", "0", "0.02", 149, 0), ("0.95", "0", "0.05", 59, 0), ("0.95", "0", "0.10", 29, 0),
    ("0.95", "0.0025", "0.02", 236, 1), ("0.95", "0.005", "0.05", 93, 1),
    ("0.95", "0.01", "0.04", 156, 2), ("0.95", "0.0125", "0.05", 124, 2),
    ("0.95", "0.0175", "0.04", 227, 4), ("0.95", "0.0175", "0.05", 153, 3),
    ("0.95", "0.02", "0.05", 181, 4), ("0.95", "0.02", "0.06", 127, 3),
    ("0.95", "0.0225", "0.05", 208, 5), ("0.95", "0.03", "0.06", 195, 6),
    ("0.95", "0.035", "0.10", 76, 3), ("0.95", "0.0375", "0.07", 185, 7),
    ("0.95", "0.04", "0.20", 22, 1), ("0.90", "0", "0.02", 114, 0), ("0.90", "0", "0.05", 45, 0),
    ("0.90", "0.0025", "0.02", 194, 1), ("0.90", "0.01", "0.03", 176, 2),
    ("0.90", "0.015", "0.05", 105, 2), ("0.90", "0.02", "0.04", 198, 4),
]  # fmt: skip


@pytest.mark.parametrize(("confidence", "expected", "tolerable", "size", "allowed"), AICPA)
def test_attribute_plans_of_the_published_tables(
    confidence: str, expected: str, tolerable: str, size: int, allowed: int
) -> None:
    found = plans.attribute_plan(tolerable=tolerable, expected=expected, confidence=confidence)
    assert found == (size, allowed)


# The same guide, table A-3 (5 % risk): upper limits in percent, rounded up; from memory.
LIMITS = [(25, 0, 11.3), (25, 1, 17.7), (30, 0, 9.6), (60, 0, 4.9), (60, 1, 7.7), (100, 0, 3.0),
          (100, 1, 4.7), (100, 2, 6.2), (150, 0, 2.0), (200, 0, 1.5), (200, 2, 3.1)]  # fmt: skip


@pytest.mark.parametrize(("size", "bad", "limit"), LIMITS)
def test_upper_limits_of_the_published_table(size: int, bad: int, limit: float) -> None:
    assert 100 * upper_share(size, bad, 0.95) == pytest.approx(limit, abs=0.1)


def test_what_no_sample_can_show() -> None:
    for expected in ("0.05", "0.06", "0.0499"):
        with pytest.raises(NotCalculable):
            plans.attribute_plan(tolerable="0.05", expected=expected, confidence="0.95")
    with pytest.raises(NotCalculable):
        plans.two_stage_plan(share="0.05", confidence="0.95", lot=60)


def test_four_stages_of_the_published_sequential_plan() -> None:
    """The same guide's sequential plan for 5 % tolerable and 10 % risk (50, 51, 51, 51 pieces;
    accept with 0, 1, 2, 3, refuse with 4; from memory) keeps its risk."""
    stages = tuple(Stage(size, accept, 4) for size, accept in ((50, 0), (51, 1), (51, 2), (51, 3)))
    assert 0.09 < plans.chance_to_accept(stages, share=0.05) <= 0.10


def test_a_double_plan_of_the_handbook() -> None:
    """Montgomery, Introduction to Statistical Quality Control, double sampling: n1 50, c1 1, n2
    100, c2 3 accept a lot with 5 % bad with a chance of 0.289 (hand-rounded; from memory)."""
    stages = Stage(50, 1, 4), Stage(100, 3, 4)
    assert plans.chance_to_accept(stages, share=0.05) == pytest.approx(0.289, abs=0.002)


def test_two_stages_keep_the_risk_and_are_the_smallest() -> None:
    first, second = plans.two_stage_plan(share="0.01", confidence="0.95", lot=2000)
    assert first.size == second.size

    def chance(size: int, bad: int = 21, lot: int = 2000) -> float:
        """By scipy: none in the first; or one, and none more in the second."""
        one = hypergeom.pmf(1, lot, bad, size) * hypergeom.pmf(0, lot - size, bad - 1, size)
        return float(hypergeom.pmf(0, lot, bad, size) + one)

    assert chance(first.size) <= 0.05 < chance(first.size - 1)


def test_the_power_of_a_plan() -> None:
    found = plans.power((Stage(59, 0, 1),), share=0.05)
    assert found[0] == (0, 1)
    for share, chance in found:
        assert chance == pytest.approx(binom.cdf(0, 59, share))
    of_lot = dict(plans.power((Stage(258, 0, 1),), share=0.01, lot=1000))
    assert of_lot[11 / 1000] == pytest.approx(hypergeom.pmf(0, 1000, 11, 258))
    assert of_lot[11 / 1000] <= 0.05


def test_bounds_after_a_second_stage() -> None:
    """At the bound, an outcome no worse has the risk's chance (scipy, binomial)."""
    stages = plans.two_stages(311, 1)
    upper, low, high = plans.second_stage_bounds(stages, 1, confidence=0.95)

    def no_worse(share: float) -> float:
        one = binom.pmf(1, 311, share) * binom.pmf(0, 311, share)
        return float(binom.pmf(0, 311, share) + one)

    assert no_worse(upper) == pytest.approx(0.05, abs=1e-6)
    assert no_worse(high) == pytest.approx(0.025, abs=1e-6)
    assert 1 - binom.pmf(0, 311, low) == pytest.approx(0.025, abs=1e-6)
    assert percent(upper) == "1 %"  # accepted: what the plan was for


def test_random_cases_against_scipy() -> None:
    """A small part of `python -m tests.benchmarks.plans`."""
    assert references.failures(40, seed=1) == []

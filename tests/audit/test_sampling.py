"""Sample sizes, plans and bounds, each against published or independently computed tables.

Sources: the tables are those of the project's collection of standards and handbook facts,
section 8 (computed there with scipy; ISO 2859-1 letters from published copies of its chart),
further points from the papers named beside them.
"""

from __future__ import annotations

import hashlib
import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.audit.statistics import bounds, sampling
from pairing.errors import NotCalculable

ZERO_DEFECTS = {
    "0.90": (22, 45, 114, 230, 460, 2302),
    "0.95": (29, 59, 149, 299, 598, 2995),
    "0.99": (44, 90, 228, 459, 919, 4603),
}
SHARES = ("0.10", "0.05", "0.02", "0.01", "0.005", "0.001")


@pytest.mark.parametrize("confidence", ZERO_DEFECTS)
def test_zero_defect_sizes_of_an_endless_lot(confidence: str) -> None:
    found = [sampling.sample_size(share=p, confidence=confidence) for p in SHARES]
    assert tuple(found) == ZERO_DEFECTS[confidence]


@pytest.mark.parametrize("confidence", ZERO_DEFECTS)
@pytest.mark.parametrize("share", SHARES)
def test_the_same_by_the_formula(confidence: str, share: str) -> None:
    """n = ceil(ln(1-c) / ln(1-p)), section 8."""
    size = math.ceil(math.log(1 - float(confidence)) / math.log(1 - float(share)))
    assert sampling.sample_size(share=share, confidence=confidence) == size


# The collection has 46, 91 and 901 for one bad piece at 90 %: ties that floating point decided
# the wrong way. 45 of 50 leave it out with a chance of 5/50, which is not more than 10 %.
DISCOVERY = [
    (50, 1, 45, 48, 50), (100, 1, 90, 95, 99), (100, 2, 69, 78, 90), (100, 5, 37, 45, 59),
    (200, 2, 137, 155, 180), (200, 10, 41, 51, 73), (500, 5, 184, 225, 300),
    (500, 10, 102, 129, 183), (1000, 1, 900, 950, 990), (1000, 10, 205, 258, 368),
    (1000, 50, 44, 57, 86), (5000, 50, 224, 290, 438), (10000, 100, 227, 294, 448),
]  # fmt: skip


@pytest.mark.parametrize(("lot", "bad", "n90", "n95", "n99"), DISCOVERY)
def test_discovery_sizes_of_a_finite_lot(lot: int, bad: int, n90: int, n95: int, n99: int) -> None:
    for confidence, size in (("0.90", n90), ("0.95", n95), ("0.99", n99)):
        assert sampling.discovery_size(lot, bad, confidence=confidence) == size


@pytest.mark.parametrize(("lot", "bad", "n90", "n95", "n99"), DISCOVERY)
def test_discovery_sizes_in_exact_arithmetic(
    lot: int, bad: int, n90: int, n95: int, n99: int
) -> None:
    """The same by integers alone: C(N-D, n) / C(N, n)."""
    for risk, size in ((Fraction(1, 10), n90), (Fraction(1, 20), n95), (Fraction(1, 100), n99)):
        assert Fraction(math.comb(lot - bad, size), math.comb(lot, size)) <= risk
        assert Fraction(math.comb(lot - bad, size - 1), math.comb(lot, size - 1)) > risk


def test_a_share_of_a_lot_is_counted_exactly() -> None:
    """ "At most 1 % of 1,000" is refuted by 11 bad ones; 10 are allowed."""
    size = sampling.sample_size(share="0.01", confidence="0.95", lot=1000)
    assert size == sampling.discovery_size(1000, 11, confidence="0.95") < 258


@given(lot=st.integers(30, 400), per_mille=st.integers(5, 200), allowed=st.integers(0, 2))
def test_a_planned_sample_that_passes_gives_the_bound(
    lot: int, per_mille: int, allowed: int
) -> None:
    """Plan and bound are the two sides of one inequality."""
    share = Fraction(per_mille, 1000)
    if math.floor(share * lot) + 1 <= allowed:
        with pytest.raises(NotCalculable):
            sampling.sample_size(share=share, confidence="0.95", lot=lot, allowed=allowed)
        return
    size = sampling.sample_size(share=share, confidence="0.95", lot=lot, allowed=allowed)
    if size > allowed:
        assert bounds.most_bad(lot, size, allowed, 0.95) <= share * lot


CLOPPER_PEARSON = [
    (0, 10, 0, 0.308497, 0.258866), (0, 20, 0, 0.168433, 0.139108),
    (1, 20, 0.001265, 0.248733, 0.216106), (0, 59, None, None, 0.049508),
    (0, 100, 0, 0.036217, 0.029513), (1, 100, 0.000253, 0.054459, None),
    (2, 100, 0.002431, 0.070384, None), (5, 100, 0.016432, 0.112835, None),
    (10, 100, 0.049005, 0.176223, None), (0, 299, None, None, 0.009969),
    (1, 300, 0.000084, 0.018431, None), (3, 1000, 0.000619, 0.008742, None),
    (0, 1000, 0, 0.003682, 0.002991),
]  # fmt: skip


@pytest.mark.parametrize(("bad", "n", "low", "high", "upper"), CLOPPER_PEARSON)
def test_clopper_pearson(
    bad: int, n: int, low: float | None, high: float | None, upper: float | None
) -> None:
    found = bounds.bounds(n, bad)
    if high is not None:
        assert (found.low, found.high) == pytest.approx((low, high), abs=6e-7)
    if upper is not None:
        assert found.upper == pytest.approx(upper, abs=6e-7)


@pytest.mark.parametrize("n", [31, 100, 1000, 5000])
def test_the_rule_of_three(n: int) -> None:
    """3/n for n > 30 (Hanley and Lippman-Hand 1983; Jovanovic and Levy 1997): an upper bound
    on the exact one-sided bound, and near it."""
    assert 0.94 * 3 / n < bounds.bounds(n, 0).upper < 3 / n


LETTERS = [
    (2, 8, "A", 2), (9, 15, "B", 3), (16, 25, "C", 5), (26, 50, "D", 8), (51, 90, "E", 13),
    (91, 150, "F", 20), (151, 280, "G", 32), (281, 500, "H", 50), (501, 1200, "J", 80),
    (1201, 3200, "K", 125), (3201, 10_000, "L", 200), (10_001, 35_000, "M", 315),
    (35_001, 150_000, "N", 500), (150_001, 500_000, "P", 800), (500_001, 10**7, "Q", 1250),
]  # fmt: skip


@pytest.mark.parametrize(("first", "last", "letter", "size"), LETTERS)
def test_letters_of_iso_2859_1(first: int, last: int, letter: str, size: int) -> None:
    for lot in (first, last):
        assert sampling.aql_plan(lot, "1.0").letter == letter
    assert sampling.LETTER_SIZES[sampling.LETTERS.index(letter)] == size
    assert sampling.LETTER_SIZES[sampling.LETTERS.index("R")] == 2000


@pytest.mark.parametrize(
    ("lot", "used", "size", "accept"),
    [
        (1000, "J", 80, 2),  # lecturehub.ie: lot 1000, level II, AQL 1.0: Ac 2, Re 3
        (60, "E", 13, 0), (400, "H", 50, 1), (2000, "K", 125, 3),  # section 8, from memory
        (100, "E", 13, 0), (200, "H", 50, 1),  # the arrows of F and G; from memory
        (5, "E", 5, 0),  # the arrows of A lead to 13, which is the whole lot; from memory
    ],
)  # fmt: skip
def test_plans_at_aql_1(lot: int, used: str, size: int, accept: int) -> None:
    plan = sampling.aql_plan(lot, "1.0")
    assert (plan.used, plan.size, plan.accept, plan.reject) == (used, size, accept, accept + 1)


@pytest.mark.parametrize("lot", range(2, 9))
def test_letter_a_at_aql_10_points_down_to_c(lot: int) -> None:
    """ISO 2859-1:1999, table 2-A, row A, column 10: the arrow leads to letter C, 5 pieces, accept
    with 1 (from memory); a lot of fewer pieces is checked whole."""
    plan = sampling.aql_plan(lot, "10")
    assert (plan.letter, plan.used, plan.accept, plan.reject) == ("A", "C", 1, 2)
    assert plan.size == min(lot, 5)


@pytest.mark.parametrize(
    ("aql", "accept"), [("0.65", 1), ("1.5", 3), ("2.5", 5), ("4.0", 7), ("6.5", 10), ("10", 14)]
)
def test_letter_j_at_other_limits(aql: str, accept: int) -> None:
    """Row J of table 2-A; from memory."""
    assert sampling.aql_plan(1000, aql).accept == accept


@pytest.mark.parametrize(
    ("share", "chance"), [(0.005, 0.9923), (0.01, 0.9534), (0.02, 0.7844), (0.05, 0.2306)]
)
def test_what_letter_j_lets_through(share: float, chance: float) -> None:
    assert sampling.aql_plan(1000, "1.0").chance_to_pass(share) == pytest.approx(chance, abs=6e-5)


def test_hypergeometric_bounds_in_exact_arithmetic() -> None:
    """Against a count by integers for a lot of 40, every sample of 12."""
    lot, n = 40, 12
    for seen in range(n + 1):
        for found, side in ((bounds.most_bad(lot, n, seen, 0.95), 1),
                            (bounds.fewest_bad(lot, n, seen, 0.95), -1)):  # fmt: skip

            def chance(bad: int, seen: int = seen, side: int = side) -> Fraction:
                wanted = range(seen + 1) if side == 1 else range(seen, n + 1)
                ways = sum(math.comb(bad, k) * math.comb(lot - bad, n - k) for k in wanted)
                return Fraction(ways, math.comb(lot, n))

            possible = range(seen, lot - (n - seen) + 1)
            kept = [bad for bad in possible if chance(bad) > Fraction(1, 20)]
            assert found == (max(kept) if side == 1 else min(kept))


def test_a_whole_lot_checked_leaves_no_doubt() -> None:
    found = bounds.bounds(500, 3, lot=500)
    assert found.low == found.upper == found.high == 3 / 500


def test_the_reader_widens_the_bound_by_what_it_hides() -> None:
    """Of bad pairs a share f is hidden: p (1 - f) shows, so p = shown / (1 - f)."""
    assert bounds.with_reader(0.01, false_agrees=0.0) == 0.01
    assert bounds.with_reader(0.01, false_agrees=0.5) == 0.02
    assert bounds.with_reader(0.9, false_agrees=0.5) == 1.0


def test_the_sample_can_be_drawn_again_by_hand() -> None:
    names = [f"piece {n}" for n in range(500)]
    found = sampling.draw(names, 20, seed="2026-11-25")
    ranked = sorted(names, key=lambda n: hashlib.sha256(f"2026-11-25:{n}".encode()).hexdigest())
    assert set(found) == set(ranked[:20])
    assert list(found) == sorted(found, key=names.index)
    assert sampling.draw(names, 20, seed="other") != found
    assert len(sampling.draw(names[:7], 20, seed="x")) == 7


def test_a_name_that_comes_twice_is_drawn_once() -> None:
    found = sampling.draw(["a", "b", "a", "c", "b"] * 3, 3, seed="x")
    assert sorted(found) == ["a", "b", "c"]


def test_every_piece_is_drawn_equally_often() -> None:
    """Chi-square over 2,000 draws of 2 in 10 (9 degrees; 1 in a million is at 43.3, Pearson's
    table by scipy)."""
    counts = dict.fromkeys("abcdefghij", 0)
    for seed in range(2000):
        for name in sampling.draw(counts, 2, seed=str(seed)):
            counts[name] += 1
    assert sum((count - 400) ** 2 / 400 for count in counts.values()) < 43.3


@pytest.mark.parametrize("share", ["0", "1", "-0.1", "much", ""])
def test_what_is_no_share(share: str) -> None:
    with pytest.raises(NotCalculable):
        sampling.sample_size(share=share, confidence="0.95")


@pytest.mark.parametrize(
    ("checked", "bad", "lot"), [(0, 0, None), (5, 6, None), (5, -1, None), (5, 0, 4)]
)
def test_counts_that_cannot_be(checked: int, bad: int, lot: int | None) -> None:
    with pytest.raises(NotCalculable):
        bounds.bounds(checked, bad, lot=lot)


def test_what_the_standard_does_not_have() -> None:
    for lot, aql in ((1, "1.0"), (100, "1.1")):
        with pytest.raises(NotCalculable):
            sampling.aql_plan(lot, aql)

"""What a checked sample says about the whole: exact bounds on the share of bad pairs.

Pure arithmetic over scipy's distributions. "Bad" is every piece that is not known to be good:
one that was not read counts against, whoever wants it otherwise has it looked at.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Context, Decimal
from fractions import Fraction

from pairing.errors import NotCalculable

_TIE = 1e-7
"""Relative distance within which floating point does not decide. Its error here is smaller."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """What can be concluded at one confidence.

    bad: pieces counted as bad (unread ones among them). upper: the share of bad pairs that is
    not exceeded, one-sided. low, high: the two-sided interval of the same confidence.
    lot: pieces that the sample represents; None where the lot counts as endless.
    """

    checked: int
    bad: int
    confidence: float
    upper: float
    low: float
    high: float
    lot: int | None


def bounds(checked: int, bad: int, *, confidence: float = 0.95, lot: int | None = None) -> Bounds:
    """Bounds after a check: hypergeometric where the lot is finite, else Clopper-Pearson.

    Raises NotCalculable for counts that cannot be, and for a confidence outside (0, 1).
    """
    _check(checked, bad, confidence, lot)
    if lot is None:
        low, high = clopper_pearson(checked, bad, confidence)
        upper = upper_share(checked, bad, confidence)
    else:
        upper = most_bad(lot, checked, bad, confidence) / lot
        low = fewest_bad(lot, checked, bad, (1 + confidence) / 2) / lot
        high = most_bad(lot, checked, bad, (1 + confidence) / 2) / lot
    return Bounds(
        checked=checked,
        bad=bad,
        confidence=confidence,
        upper=upper,
        low=low,
        high=high,
        lot=lot,
    )


def upper_share(checked: int, bad: int, confidence: float) -> float:
    """The one-sided upper bound of Clopper and Pearson (1934, Biometrika 26): the share at
    which so few bad ones, or fewer, would be seen only with chance 1 - confidence."""
    from scipy.special import betaincinv  # noqa: PLC0415 - costs most of a second

    _check(checked, bad, confidence, None)
    if bad == checked:
        return 1.0
    return float(betaincinv(bad + 1, checked - bad, confidence))


def clopper_pearson(checked: int, bad: int, confidence: float) -> tuple[float, float]:
    """The two-sided interval of Clopper and Pearson (1934): half of the risk on each side."""
    side = (1 + confidence) / 2
    low = 1 - upper_share(checked, checked - bad, side)
    return (low if bad else 0.0), upper_share(checked, bad, side)


def most_bad(lot: int, checked: int, bad: int, confidence: float) -> int:
    """The largest number of bad pieces in the lot under which seeing so few has a chance of
    more than 1 - confidence (hypergeometric: drawn without putting back)."""
    _check(checked, bad, confidence, lot)
    risk = 1 - Fraction(str(confidence))
    low, high = bad, lot - (checked - bad)
    while low < high:
        middle = (low + high + 1) // 2
        if is_rare(lot, middle, checked, bad, risk=risk):
            high = middle - 1
        else:
            low = middle
    return low


def fewest_bad(lot: int, checked: int, bad: int, confidence: float) -> int:
    """The smallest number of bad pieces in the lot under which seeing so many has a chance of
    more than 1 - confidence."""
    return lot - most_bad(lot, checked, checked - bad, confidence)


def is_rare(lot: int, bad_in_lot: int, checked: int, most_seen: int, *, risk: Fraction) -> bool:
    """Whether at most `most_seen` bad ones in a sample of `checked`, from a lot with
    `bad_in_lot`, have a chance of at most `risk`. Ties are decided in whole numbers: with one
    bad piece in 1,000 a sample of 900 misses it with a chance of exactly one in ten."""
    from scipy.stats import hypergeom  # noqa: PLC0415 - costs most of a second

    chance = float(hypergeom.cdf(most_seen, lot, bad_in_lot, checked))
    if abs(chance - float(risk)) > _TIE * float(risk):
        return chance <= risk
    ways = sum(
        math.comb(bad_in_lot, k) * math.comb(lot - bad_in_lot, checked - k)
        for k in range(min(most_seen, bad_in_lot, checked) + 1)
    )
    return ways * risk.denominator <= risk.numerator * math.comb(lot, checked)


def with_reader(share: float, *, false_agrees: float) -> float:
    """The same bound once the reader's own errors are in it.

    false_agrees: the reader's rate of wrong "agrees" among differing pairs, at its bound. Of
    the bad pairs only 1 - false_agrees show as such, so a bound on what shows is a bound on that
    much more.
    """
    if not 0 <= false_agrees < 1:
        raise NotCalculable(
            "This is not a rate of wrong answers", where=false_agrees, remedy="Give 0 to below 1."
        )
    return min(1.0, share / (1 - false_agrees))


def percent(share: float, *, is_lower: bool = False) -> str:
    """A bound in percent as people read it: two digits that count, from 10 % on one after the
    point; never rounded down, or where it is a lower bound, never up."""
    exact, rounding = Decimal(share * 100), ROUND_FLOOR if is_lower else ROUND_CEILING
    if exact >= 10:
        shown = exact.quantize(Decimal("0.1"), rounding=rounding)
    else:
        shown = Context(prec=2, rounding=rounding).create_decimal(exact)
    return f"{shown.normalize():f} %"


def _check(checked: int, bad: int, confidence: float, lot: int | None) -> None:
    if not 0 < confidence < 1:
        raise NotCalculable(
            "A confidence lies between 0 and 1", where=confidence, remedy="Give 0.95 or 95%."
        )
    if checked < 1 or not 0 <= bad <= checked:
        raise NotCalculable(
            "There cannot be that many bad ones among those checked",
            where=(checked, bad),
            remedy="Give how many were checked, and how many of them were bad or unread.",
        )
    if lot is not None and lot < checked:
        raise NotCalculable(
            f"The lot is smaller than what was checked of it ({checked:,} pieces)",
            where=lot,
            remedy="Give the number of pieces in the whole lot; a photo that belongs to no other "
            "is a piece of its own.",
        )

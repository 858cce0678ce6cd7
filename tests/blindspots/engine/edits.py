"""Exact counts of how many altered numbers an additive scheme still accepts.

An edit is written with terms. A term >= 0 is a variable for any digit; a
term < 0 is a fixed digit, d written as ~d. `before` is the valid number, `after` what
became of it: swapping the ends of a three-digit number is (0, 1, 2) -> (2, 1, 0), a
misread last digit (0, 1, 2) -> (0, 1, 3), a twin (0, 0, 1) -> (2, 2, 1).

The two weighted sums depend on the variables linearly, so their joint distribution is a
convolution, one variable at a time, over pairs of remainders. All counts are integers and
all assignments of digits that make `before` valid count the same, so nothing is sampled.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from tests.blindspots.engine.schemes import Scheme

Terms = tuple[int, ...]
_Table = tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """How many valid originals (with all choices of new digits), and how many of the
    altered numbers pass."""

    all: int
    passed: int

    def __add__(self, other: Count) -> Count:
        return Count(all=self.all + other.all, passed=self.passed + other.passed)

    def __sub__(self, other: Count) -> Count:
        return Count(all=self.all - other.all, passed=self.passed - other.passed)

    def __mul__(self, times: int) -> Count:
        return Count(all=self.all * times, passed=self.passed * times)


NOTHING = Count(all=0, passed=0)


def changed(scheme: Scheme, before: Terms, after: Terms, target: Scheme | None = None) -> Count:
    """Counts over the cases in which the edit changed the number.

    target: the scheme that the altered number is held against (another length), by
    default `scheme` itself.
    """
    everything = count(scheme, before, after, target or scheme)
    if len(before) != len(after):
        return everything
    same = _merged(before, after)
    return everything if same is None else everything - count(scheme, same, same, scheme)


def count(scheme: Scheme, before: Terms, after: Terms, target: Scheme) -> Count:
    """Counts over all cases, those that change nothing included."""
    ours, our_rest = _coefficients(scheme, before)
    theirs, their_rest = _coefficients(target, after)
    check, new_check = before[-1], after[-1]
    free = {term for term in (*before, *after) if term >= 0} - {check, new_check}
    pairs = sorted((ours[v], theirs[v]) for v in free)
    return _counted(
        scheme,
        target,
        tuple(pairs),
        (our_rest, their_rest),
        _End(check, ours[check], theirs[check]),
        _End(new_check, ours[new_check], theirs[new_check]),
    )


@dataclass(frozen=True, slots=True)
class _End:
    """A check digit's term and what it adds to the two sums where it occurs as data."""

    term: int
    ours: int
    theirs: int

    def values(self) -> Sequence[int]:
        return range(10) if self.term >= 0 else (~self.term,)


def _counted(
    scheme: Scheme,
    target: Scheme,
    pairs: tuple[tuple[int, int], ...],
    rest: tuple[int, int],
    check: _End,
    new_check: _End,
) -> Count:
    m, n = scheme.modulus, target.modulus
    table = _joint(pairs, m, n)
    totals = [sum(row) for row in table]
    valid = passed = 0
    for c, k in _end_values(check, new_check):
        lone = new_check.term >= 0 and new_check.term != check.term
        r0 = rest[0] + check.ours * c + new_check.ours * k * lone
        s0 = rest[1] + check.theirs * c + new_check.theirs * k * lone
        for r in _remainders(scheme, c):
            row = (r - r0) % m
            valid += totals[row]
            passed += sum(table[row][(s - s0) % n] for s in _remainders(target, k))
    return Count(all=valid, passed=passed)


def _end_values(check: _End, new_check: _End) -> Iterator[tuple[int, int]]:
    for c in check.values():
        if check.term == new_check.term:
            yield c, c
        else:
            yield from ((c, k) for k in new_check.values())


@lru_cache(maxsize=256)
def _remainders(scheme: Scheme, check_digit: int) -> tuple[int, ...]:
    """The remainders that are folded into this check digit."""
    return tuple(r for r, folded in enumerate(scheme.folds) if folded == check_digit)


@lru_cache(maxsize=4096)
def _joint(pairs: tuple[tuple[int, int], ...], m: int, n: int) -> _Table:
    """table[r][s]: assignments of one digit to each pair (a, b) for which the sum of
    a*digit leaves r mod m and that of b*digit leaves s mod n."""
    if not pairs:
        return tuple(tuple(int(r == s == 0) for s in range(n)) for r in range(m))
    *others, (a, b) = pairs
    before = _joint(tuple(others), m, n)
    steps = [(a * digit % m, b * digit % n) for digit in range(10)]
    return tuple(
        tuple(sum(before[r - x][s - y] for x, y in steps) for s in range(n)) for r in range(m)
    )


def _coefficients(scheme: Scheme, terms: Terms) -> tuple[defaultdict[int, int], int]:
    """Each variable's coefficient in the weighted sum, and the constant part.

    A fixed digit has the coefficient 0: what it adds is in the constant part.
    """
    found: defaultdict[int, int] = defaultdict(int)
    rest = scheme.offset
    for weight, term in zip(scheme.weights, terms[:-1], strict=True):
        if term >= 0:
            found[term] += weight
        else:
            rest += weight * ~term
    return defaultdict(int, {v: c % scheme.modulus for v, c in found.items()}), rest


def _merged(before: Terms, after: Terms) -> Terms | None:
    """`before` under the condition that `after` equals it; None where it never can."""
    parent: dict[int, int] = {}

    def root(term: int) -> int:
        while (above := parent.get(term, term)) != term:
            term = above
        return term

    for x, y in zip(before, after, strict=True):
        low, high = sorted((root(x), root(y)))
        if low != high:
            if high < 0:  # two different fixed digits
                return None
            parent[high] = low
    return tuple(root(term) for term in before)

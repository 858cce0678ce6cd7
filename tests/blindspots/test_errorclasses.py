"""Exact counts against the enumeration of every number and every edit of tiny schemes.

The tiny schemes have the weights and foldings of the real ones, cut to a few digits, so
that nothing has to be sampled; the enumeration works on strings and shares no code.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from functools import cache
from itertools import combinations, product

import pytest

from tests.blindspots.engine import errorclasses
from tests.blindspots.engine.edits import Count
from tests.blindspots.engine.schemes import Scheme
from tests.compare import oracle

MOD10 = tuple(-r % 10 for r in range(10))
OTHERS = {d: "0123456789".replace(d, "") for d in "0123456789"}
S10_FOLDS = (5, 0, 9, 8, 7, 6, 5, 4, 3, 2, 1)  # remainder -> check digit, UPU S10-12


def tiny(weights: tuple[int, ...], folds: tuple[int, ...], offset: int = 0) -> Scheme:
    return Scheme(start=0, length=len(weights) + 1, weights=weights, offset=offset, folds=folds)


SMALL = [
    tiny((1, 3), MOD10),
    tiny((1, 3), MOD10, offset=28),
    tiny((9, 7), S10_FOLDS),
]
MIDDLE = [
    tiny((3, 1, 3), MOD10),
    tiny((3, 1, 3), MOD10, offset=28),
    tiny((5, 9, 7), S10_FOLDS),
]
LARGE = [
    tiny((1, 3, 1, 3), MOD10),
    tiny((4, 2, 3, 5), S10_FOLDS),
]
IS_FULL = os.environ.get("COUNTERFOIL_ORACLE") == "full"
"""All classes on all schemes, minutes long; without it those that have most edits go through the
smaller schemes alone."""


@cache
def valid_numbers(scheme: Scheme) -> frozenset[str]:
    """Every number whose last digit is what the folding makes of the weighted sum."""
    found = set()
    for digits in product(range(10), repeat=len(scheme.weights)):
        total = scheme.offset + sum(w * d for w, d in zip(scheme.weights, digits, strict=True))
        check = scheme.folds[total % len(scheme.folds)]
        found.add("".join(map(str, (*digits, check))))
    return frozenset(found)


def brute(scheme: Scheme, edits: Callable[[str], Iterator[str]], target: Scheme) -> Count:
    accepted = valid_numbers(target)
    everything = passed = 0
    for x in valid_numbers(scheme):
        for y in edits(x):
            if x != y:
                everything += 1
                passed += y in accepted
    return Count(all=everything, passed=passed)


def wrong(x: str, *places: int) -> Iterator[str]:
    """All digits at `places` wrong, in every way."""
    for new in product(*(OTHERS[x[i]] for i in places)):
        made = list(x)
        for i, digit in zip(places, new, strict=True):
            made[i] = digit
        yield "".join(made)


def any_wrong(x: str, k: int) -> Iterator[str]:
    for places in combinations(range(len(x)), k):
        yield from wrong(x, *places)


def pairs(x: str, gap: int) -> Iterator[str]:
    """Both of two digits `gap` apart wrong, less the classes with a name."""
    named = {y for y, _ in (*oracle.swaps(x, gap), *oracle.twins(x, gap))}
    if gap == 1:
        named |= {y for y, _ in oracle.phonetic(x)}
    for i in range(len(x) - gap):
        yield from (y for y in wrong(x, i, i + gap) if y not in named)


def far(x: str) -> Iterator[str]:
    for i, j in combinations(range(len(x)), 2):
        if j - i >= 3:
            yield from wrong(x, i, j)


def all_shifts(x: str) -> Iterator[str]:
    for i, j in product(range(len(x)), repeat=2):
        if abs(i - j) >= 2:
            left = x[:i] + x[i + 1 :]
            yield from (left[:j] + new + left[j:] for new in "0123456789")


CLASSES: dict[str, tuple[Callable[[Scheme], Count], Callable[[str], Iterator[str]]]] = {
    "one digit": (errorclasses.single, lambda x: (y for y, _ in oracle.one_digit(x))),
    "adjacent swap": (
        lambda s: errorclasses.swap(s, 1),
        lambda x: (y for y, _ in oracle.swaps(x, 1)),
    ),
    "jump swap": (
        lambda s: errorclasses.swap(s, 2),
        lambda x: (y for y, _ in oracle.swaps(x, 2)),
    ),
    "twin": (lambda s: errorclasses.twin(s, 1), lambda x: (y for y, _ in oracle.twins(x, 1))),
    "jump twin": (
        lambda s: errorclasses.twin(s, 2),
        lambda x: (y for y, _ in oracle.twins(x, 2)),
    ),
    "phonetic": (errorclasses.phonetic, lambda x: (y for y, _ in oracle.phonetic(x))),
    "other adjacent": (errorclasses.other_adjacent, lambda x: pairs(x, 1)),
    "other jump": (errorclasses.other_jump, lambda x: pairs(x, 2)),
    "two far": (errorclasses.two_far, far),
    "any two": (lambda s: errorclasses.wrong_digits(s)[2], lambda x: any_wrong(x, 2)),
    "shifted": (errorclasses.shifted, all_shifts),
    "groups of 2": (
        lambda s: errorclasses.group_swap(s, (2,)),
        lambda x: (y for y, _ in oracle.groups(x, (2,))),
    ),
    "groups of 1": (
        lambda s: errorclasses.group_swap(s, (1,)),
        lambda x: (y for y, _ in oracle.groups(x, (1,))),
    ),
    "groups 1-2": (
        lambda s: errorclasses.group_swap(s, (1, 2)),
        lambda x: (y for y, _ in oracle.groups(x, (1, 2))),
    ),
}


MANY_EDITS = {"any two", "other adjacent", "other jump", "shifted"}
CASES = [
    (name, scheme)
    for name in CLASSES
    for scheme in [*SMALL, *MIDDLE, *(LARGE if IS_FULL else ())]
    if IS_FULL or name not in MANY_EDITS or scheme in SMALL
]


@pytest.mark.parametrize(
    ("name", "scheme"), CASES, ids=lambda one: one if isinstance(one, str) else str(one.weights)
)
def test_counts_equal_full_enumeration(name: str, scheme: Scheme) -> None:
    counter, edits = CLASSES[name]
    assert counter(scheme) == brute(scheme, edits, scheme)


@pytest.mark.parametrize(
    ("k", "scheme"),
    [(3, SMALL[0]), (3, SMALL[2])]
    + ([(k, scheme) for k in (3, 4) for scheme in (MIDDLE[0], MIDDLE[2])] if IS_FULL else []),
    ids=str,
)
def test_three_and_four_wrong_digits(k: int, scheme: Scheme) -> None:
    small = tiny(scheme.weights, scheme.folds)
    assert errorclasses.wrong_digits(small)[k] == brute(small, lambda x: any_wrong(x, k), small)


def test_length_changes_into_another_known_length() -> None:
    three, four = tiny((3, 1, 3), MOD10), tiny((1, 3, 1, 3), MOD10)
    lost = brute(four, lambda x: (y for y, _ in oracle.dropped(x)), three)
    assert errorclasses.dropped(four, three) == lost
    gained = brute(
        three,
        lambda x: (x[:i] + new + x[i:] for i in range(5) for new in "0123456789"),
        four,
    )
    assert errorclasses.extra(three, four) == gained
    two = tiny((1, 3), MOD10)
    ends = brute(four, lambda x: iter((x[:3], x[2:])), two)
    assert errorclasses.truncated(four, two) == ends

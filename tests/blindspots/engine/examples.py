"""Pairs of numbers that show a blind spot: both pass the check digit, and they differ.

The first number is a given one or a published one (`PUBLISHED`), or, where the class has
no example on those, one that follows it on the pad. The second is found by trying the
error class on the first, from the right end to the left (a family's fixed first digits
make poor examples), and asking the scheme itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations, pairwise, product

from pairing.compare.kinds import MIN_DIGITS_OFF, CopyError
from pairing.numbers.grouping import bounds
from tests.blindspots.engine.schemes import Scheme

CARD = "9590940258780038231151"
"""A return-receipt card's own number, NC DEQ record NOV-2020-DV-0495."""

PUBLISHED = (
    CARD,
    "9400111201080805483016",  # tracking_number_data, couriers/usps.json
    "70191640000008004105",  # a retail Certified label, state agency records
    "71123456789123456787",  # tracking_number_data, couriers/usps.json
    "71969010756003077385",  # the same; passes with 91 in front
    "92748931507708513018050063",  # the same, 26 digits
    "92001903060085300042901077",  # the same, 26 digits
    "EE876543216CA",  # UPU S10-12, Annex A
    "AB123100000IE",  # zint test_code128.c citing UPU S10-12 (remainder folded to 0)
    "AB000000005IE",  # the same (remainder folded to 5)
)

_DIGITS = "0123456789"

_MAX_FOLLOWING = 200
"""How many numbers further on the pad are tried: the rarest class (jump twin under S10)
needs 1.8 % of luck at each place."""


def published(scheme: Scheme) -> tuple[str, ...]:
    """The published numbers that the scheme accepts."""
    return tuple(number for number in PUBLISHED if scheme.accepts(number))


def starts(scheme: Scheme, given: str | None) -> tuple[str, ...]:
    """Numbers to work examples from, the given one first.

    A length for which nothing is published gets one number counted up from 1.
    """
    if given is not None:
        return (given, *published(scheme))
    data = (_DIGITS[1:] + "0") * (1 + scheme.length // 10)
    counted = data[: len(scheme.weights)]
    return published(scheme) or (counted + scheme.check_digit(counted),)


def find(
    code: str, scheme: Scheme, numbers: Sequence[str], group_sizes: Sequence[int]
) -> tuple[str, str] | None:
    """The first (number, altered number) of this class that passes, or None."""
    for number in (*numbers, *following(scheme, numbers[0])):
        for altered in _altered(code, number, scheme, group_sizes):
            if altered != number and scheme.accepts(altered):
                return number, altered
    return None


def following(scheme: Scheme, number: str) -> Iterator[str]:
    """The numbers that follow on the pad."""
    for _ in range(_MAX_FOLLOWING):
        number = next_on_pad(scheme, number)
        yield number


def whole_numbers(scheme: Scheme, numbers: Sequence[str]) -> dict[CopyError, tuple[str, str]]:
    """Pairs of valid numbers that are simply not the same number."""
    found = {CopyError.PAD_NEIGHBOR: (numbers[0], next_on_pad(scheme, numbers[0]))}
    if others := [number for number in numbers if number != numbers[0]]:
        found[CopyError.OTHER_PIECE] = (numbers[0], others[0])
        labels = [number for number in numbers if number != CARD]
        if scheme.accepts(CARD):
            found[CopyError.CARD_OWN] = (labels[0], CARD)
    return found


def next_on_pad(scheme: Scheme, number: str) -> str:
    """The number with the next serial and its own check digit."""
    start, end = scheme.start, scheme.start + len(scheme.weights)
    size = end - start
    serial = str((int(number[start:end]) + 1) % 10**size).zfill(size)
    return number[:start] + serial + scheme.check_digit(serial) + number[end + 1 :]


def _altered(code: str, number: str, scheme: Scheme, group_sizes: Sequence[int]) -> Iterable[str]:
    start, end = scheme.start, scheme.start + scheme.digits
    digits = number[start:end]
    if code.startswith("groups"):
        return _group_swaps(number, scheme, group_sizes, full=code == "groups-full")
    if code.startswith("letter"):
        return _letters(number, scheme, swapped=code == "letters-swapped")
    return (number[:start] + text + number[end:] for text in _digit_edits(code, digits))


def _digit_edits(code: str, digits: str) -> Iterator[str]:
    """Altered digits of one class; classes of fixed gaps and counts by their parameters."""
    match code:
        case "adjacent-swap" | "jump-swap":
            for i, j in _apart(digits, 1 if code == "adjacent-swap" else 2):
                yield _put(digits, {i: digits[j], j: digits[i]})
        case "twin" | "jump-twin":
            for i, j in _apart(digits, 1 if code == "twin" else 2):
                if digits[i] == digits[j]:
                    yield from (_put(digits, {i: new, j: new}) for new in _DIGITS)
        case "phonetic":
            for i, j in _apart(digits, 1):
                x, y = digits[i], digits[j]
                if y == "0" and x in "23456789":
                    yield _put(digits, {i: "1", j: x})
                if x == "1" and y in "23456789":
                    yield _put(digits, {i: y, j: "0"})
        case "shifted":
            yield from _shifts(digits)
        case _:
            yield from _wrong(code, digits)


_WRONG_COUNTS = {"one-digit": 1, "three": 3, "four": 4, "five": 5, "six": 6}


def _wrong(code: str, digits: str) -> Iterator[str]:
    """That many digits, all of them wrong; the pairs keep to their distance."""
    for backwards in combinations(reversed(range(len(digits))), _WRONG_COUNTS.get(code, 2)):
        places = backwards[::-1]
        gap = places[-1] - places[0]
        wanted = {"other-adjacent": gap == 1, "other-jump": gap == 2, "two-far": gap >= 3}
        if not wanted.get(code, True):
            continue
        for new in product(*(_others(digits[i]) for i in places)):
            altered = _put(digits, dict(zip(places, new, strict=True)))
            if not (code.startswith("other-") and _is_named(digits, altered, places)):
                yield altered


def _is_named(digits: str, altered: str, places: Sequence[int]) -> bool:
    """Whether a pair error is one of the classes that have a name of their own."""
    i, j = places
    old, new = digits[i] + digits[j], altered[i] + altered[j]
    sound = j - i == 1 and any(
        a[1] == "0" and b == "1" + a[0] and a[0] > "1" for a, b in ((old, new), (new, old))
    )
    return new == old[::-1] or (old[0] == old[1] and new[0] == new[1]) or sound


def _shifts(digits: str) -> Iterator[str]:
    for i, j in product(reversed(range(len(digits))), repeat=2):
        if abs(i - j) >= MIN_DIGITS_OFF:
            left = digits[:i] + digits[i + 1 :]
            yield from (left[:j] + new + left[j:] for new in _DIGITS)


def _group_swaps(
    number: str, scheme: Scheme, group_sizes: Sequence[int], *, full: bool
) -> Iterator[str]:
    cut = bounds(len(number), group_sizes)[::-1]
    for (c, d), (a, b) in combinations(cut, 2):
        covered = scheme.start <= a and d <= scheme.start + scheme.digits
        if not full or (covered and b - a == d - c):
            yield number[:a] + number[c:d] + number[b:c] + number[a:b] + number[d:]


def _letters(number: str, scheme: Scheme, *, swapped: bool) -> Iterator[str]:
    inside = range(scheme.start, scheme.start + scheme.digits)
    places = [index for index in range(len(number)) if index not in inside]
    if swapped:
        for i, j in pairwise(places):
            if j == i + 1:
                yield _put(number, {i: number[j], j: number[i]})
    else:
        for i in places:
            yield from (_put(number, {i: new}) for new in "ABCDEFGHIJKLMNOPQRSTUVWXYZ")


def _others(digit: str) -> str:
    return _DIGITS.replace(digit, "")


def _put(text: str, new: dict[int, str]) -> str:
    return "".join(new.get(index, char) for index, char in enumerate(text))


def _apart(digits: str, gap: int) -> list[tuple[int, int]]:
    return [(i, i + gap) for i in reversed(range(len(digits) - gap))]

"""The places of a printed number in words.

A person finds "group 4, digit 2" on the paper; nobody finds "position 14". Positions, group and
digit numbers are 1-based. `sizes` are the sizes of all printed groups in order
(`numbers.grouping.sizes`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import accumulate, pairwise

from pairing.errors import CounterfoilError
from pairing.findings.wording.plurals import listed

WHOLE = "the whole number"


def spot(position: int, sizes: Sequence[int], *, noun: str = "digit") -> str:
    """One place: "group 4, digit 2". Raises CounterfoilError for a position outside."""
    cut = _bounds(sizes)
    _require(position, cut)
    group, index = _place_of(position, cut)
    return f"group {group}, {noun} {index}"


def place(positions: Iterable[int], sizes: Sequence[int], *, noun: str = "digit") -> str:
    """Words for places.

    positions: any order; an empty collection gives "".
    noun: what a single place is called ("digit", "character"), see `plurals.unit`.

    "group 4, digit 2" · "group 4, digits 2 and 3" · "group 4, digits 2 to 4" ·
    "group 4" (all of it) · "groups 2 and 3" · "group 1, digit 4 and group 2, digit 1" ·
    "group 2, digit 3 to group 4, digit 1" (three or more in a row) · "the whole number".
    Raises CounterfoilError for a position outside.
    """
    wanted, cut = sorted(set(positions)), _bounds(sizes)
    for position in wanted[:1] + wanted[-1:]:
        _require(position, cut)
    if len(wanted) == sum(sizes) and len(cut) > 1:
        return WHOLE
    return listed([words for _, words in sorted(_phrases(wanted, cut, noun))])


def _bounds(sizes: Sequence[int]) -> tuple[tuple[int, int], ...]:
    """The groups as 0-based half-open (start, end)."""
    return tuple(pairwise(accumulate(sizes, initial=0)))


def _phrases(
    wanted: Sequence[int], cut: Sequence[tuple[int, int]], noun: str
) -> Iterator[tuple[int, str]]:
    """The phrases for sorted positions, each with the first group that it names."""
    whole_groups: list[int] = []
    scattered: dict[int, list[int]] = {}
    for run in _runs(wanted):
        places = [_place_of(position, cut) for position in run]
        (first, at_first), (last, at_last) = places[0], places[-1]
        if covered := _covered(run, cut):
            whole_groups += covered
        elif len(run) > 2 and first != last:
            yield first, f"group {first}, {noun} {at_first} to group {last}, {noun} {at_last}"
        else:
            for group, digit in places:
                scattered.setdefault(group, []).append(digit)
    for group, digits in scattered.items():
        yield group, f"group {group}, {_numbered(noun, digits)}"
    if whole_groups:
        yield whole_groups[0], _numbered("group", whole_groups)


def _require(position: int, cut: Sequence[tuple[int, int]]) -> None:
    length = cut[-1][1] if cut else 0
    if not 1 <= position <= length:
        raise CounterfoilError(
            f"A number of {length} characters has no such position",
            where=position,
            remedy=f"Give positions from 1 to {length}.",
        )


def _place_of(position: int, cut: Sequence[tuple[int, int]]) -> tuple[int, int]:
    """(group, digit in the group), both 1-based."""
    return next(
        (number, position - start) for number, (start, end) in enumerate(cut, 1) if position <= end
    )


def _runs(wanted: Sequence[int]) -> list[list[int]]:
    """`wanted` cut where it skips a position."""
    runs: list[list[int]] = [[wanted[0]]] if wanted else []
    for before, after in pairwise(wanted):
        if after == before + 1:
            runs[-1].append(after)
        else:
            runs.append([after])
    return runs


def _covered(run: Sequence[int], cut: Sequence[tuple[int, int]]) -> list[int]:
    """The group numbers that `run` is made of exactly, or none.

    A group of a single digit is better called by its digit, unless others go with it.
    """
    inside = [
        number
        for number, (start, end) in enumerate(cut, 1)
        if run[0] <= start + 1 and end <= run[-1]
    ]
    exact = sum(cut[number - 1][1] - cut[number - 1][0] for number in inside) == len(run)
    return inside if exact and len(run) > 1 else []


def _numbered(noun: str, numbers: Sequence[int]) -> str:
    """ "digit 2", "digits 2 and 3", "digits 2 to 4", "digits 1, 2 and 4"."""
    if len(numbers) == 1:
        return f"{noun} {numbers[0]}"
    if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"{noun}s {numbers[0]} to {numbers[-1]}"
    return f"{noun}s {listed([str(number) for number in numbers])}"

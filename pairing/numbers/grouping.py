"""The printed grouping: how a number is cut for the eye, and words for its places.

A USPS number is printed in groups of four with a short tail (BCOCA, modifier X'06',
human-readable text), a UPU S10 number as 2-3-3-3-2 (UPU S10-12, section 8). A person
finds "group 4, digit 2" on the paper; nobody finds "position 14".

Positions are 1-based, group and digit numbers in words too.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

from pairing.errors import CounterfoilError

WHOLE = "the whole number"


def _sizes(length: int, group_sizes: Sequence[int]) -> Iterator[int]:
    """The sizes that `length` characters are cut into."""
    if any(size < 1 for size in group_sizes):
        raise CounterfoilError(
            "A printed grouping has a group without characters",
            where=tuple(group_sizes),
            remedy="Give every group a size of at least 1.",
        )
    left, index = length, 0
    while left > 0:
        size = group_sizes[min(index, len(group_sizes) - 1)] if group_sizes else left
        yield min(size, left)
        left -= size
        index += 1


def bounds(length: int, group_sizes: Sequence[int]) -> tuple[tuple[int, int], ...]:
    """The groups of `length` characters as 0-based half-open (start, end).

    The last size repeats and the tail may be short; no sizes at all mean one group.
    """
    found: list[tuple[int, int]] = []
    start = 0
    for size in _sizes(length, group_sizes):
        found.append((start, start + size))
        start += size
    return tuple(found)


def groups(text: str, group_sizes: Sequence[int]) -> tuple[str, ...]:
    """`text` cut into its printed groups; an empty text has none."""
    return tuple(text[start:end] for start, end in bounds(len(text), group_sizes))


def spaced(text: str, group_sizes: Sequence[int]) -> str:
    """`text` as it is printed, a blank between groups."""
    return " ".join(groups(text, group_sizes))


def unit(text: str) -> str:
    """What one place of `text` is called: "digit", or "character" where letters occur."""
    return "digit" if text.isascii() and text.isdigit() else "character"


def listed(words: Sequence[str]) -> str:
    """ "a", "a and b", "a, b and c"; semicolons where the words hold commas themselves."""
    if len(words) < 2:
        return "".join(words)
    comma = "; " if len(words) > 2 and any("," in word for word in words) else ", "
    return f"{comma.join(words[:-1])} and {words[-1]}"


def spot(position: int, length: int, group_sizes: Sequence[int], *, noun: str = "digit") -> str:
    """One place: "group 4, digit 2". A position outside 1..length is an error."""
    _require(position, length)
    group, index = _place_of(position, bounds(length, group_sizes))
    return f"group {group}, {noun} {index}"


def place(
    positions: Iterable[int],
    length: int,
    group_sizes: Sequence[int],
    *,
    noun: str = "digit",
) -> str:
    """Words for places in a printed number of `length` characters.

    positions: 1-based, any order; an empty collection gives "".
    noun: what a single place is called ("digit", "character"), see `unit`.

    "group 4, digit 2" · "group 4, digits 2 and 3" · "group 4, digits 2 to 4" ·
    "group 4" (all of it) · "groups 2 and 3" · "group 1, digit 4 and group 2, digit 1" ·
    "group 2, digit 3 to group 4, digit 1" (three or more in a row) · "the whole number".
    """
    wanted = sorted(set(positions))
    for position in wanted[:1] + wanted[-1:]:
        _require(position, length)
    cut = bounds(length, group_sizes)
    if len(wanted) == length and len(cut) > 1:
        return WHOLE
    return listed(sorted(_phrases(wanted, cut, noun), key=_first_number))


def _phrases(wanted: Sequence[int], cut: Sequence[tuple[int, int]], noun: str) -> Iterator[str]:
    """The phrases for sorted positions, in no particular order."""
    whole_groups: list[int] = []
    scattered: dict[int, list[int]] = {}
    for run in _runs(wanted):
        places = [_place_of(position, cut) for position in run]
        (first, at_first), (last, at_last) = places[0], places[-1]
        if covered := _covered(run, cut):
            whole_groups += covered
        elif len(run) > 2 and first != last:
            yield f"group {first}, {noun} {at_first} to group {last}, {noun} {at_last}"
        else:
            for group, digit in places:
                scattered.setdefault(group, []).append(digit)
    for group, digits in scattered.items():
        yield f"group {group}, {_numbered(noun, digits)}"
    if whole_groups:
        yield _numbered("group", whole_groups)


def _require(position: int, length: int) -> None:
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


def _first_number(words: str) -> int:
    """Sorts phrases by the first group that they name."""
    return int("".join(c if c.isdigit() else " " for c in words).split()[0])

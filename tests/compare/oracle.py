"""What a label number can become under each copying error, by applying every edit to it.

Written from the definitions alone: it generates, where the library recognizes, and shares
no code with it. Check digits come from python-stdnum (GS1 mod-10) and from a few lines
after UPU S10-12 (weights 8 6 4 2 3 5 9 7, 11 - S mod 11, 10 -> 0, 11 -> 5).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import combinations

from stdnum import ean

DIGITS = "0123456789"
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"

Made = Iterator[tuple[str, tuple[int, ...]]]
"""(altered text, 1-based positions in the label)."""


def s10_check_digit(serial: str) -> str:
    total = sum(w * int(d) for w, d in zip((8, 6, 4, 2, 3, 5, 9, 7), serial, strict=True))
    check = 11 - total % 11
    return str({10: 0, 11: 5}.get(check, check))


def is_s10(text: str) -> bool:
    return len(text) == 13 and text[:2].isalpha() and text[11:].isalpha()


def is_valid(text: str) -> bool:
    """S10 by its shape, every other digit string of 20, 22 or 26 by mod-10."""
    if is_s10(text):
        return text[2:11].isdigit() and s10_check_digit(text[2:10]) == text[10]
    shaped = text.isascii() and text.isdigit() and len(text) in {20, 22, 26}
    return shaped and ean.calc_check_digit(text[:-1]) == text[-1]


def put(text: str, new: dict[int, str]) -> str:
    return "".join(new.get(i, c) for i, c in enumerate(text))


def cut(n: int, sizes: tuple[int, ...]) -> list[range]:
    found: list[range] = []
    at = 0
    while at < n:
        size = sizes[len(found)] if len(found) < len(sizes) else sizes[-1]
        found.append(range(at, min(n, at + size)))
        at += size
    return found


def one_digit(x: str) -> Made:
    for i in range(len(x)):
        for new in DIGITS + (LETTERS if is_s10(x) else ""):
            yield put(x, {i: new}), (i + 1,)


def swaps(x: str, gap: int) -> Made:
    for i in range(len(x) - gap):
        yield put(x, {i: x[i + gap], i + gap: x[i]}), (i + 1, i + gap + 1)


def twins(x: str, gap: int) -> Made:
    for i in range(len(x) - gap):
        if x[i] == x[i + gap]:
            for new in DIGITS + (LETTERS if is_s10(x) else ""):
                yield put(x, {i: new, i + gap: new}), (i + 1, i + gap + 1)


def phonetic(x: str) -> Made:
    for i in range(len(x) - 1):
        for a in "23456789":
            for old, new in ((a + "0", "1" + a), ("1" + a, a + "0")):
                if x[i : i + 2] == old:
                    yield x[:i] + new + x[i + 2 :], (i + 1, i + 2)


def dropped(x: str) -> Made:
    for i in range(len(x)):
        yield x[:i] + x[i + 1 :], (i + 1,)


def extra(x: str) -> Made:
    for i in range(len(x) + 1):
        for new in DIGITS + (LETTERS if is_s10(x) else ""):
            yield x[:i] + new + x[i:], (i,) if i else ()


def truncated(x: str) -> Made:
    for lost in range(2, len(x)):
        kept = len(x) - lost
        yield x[:kept], tuple(range(kept + 1, len(x) + 1))
        yield x[lost:], tuple(range(1, lost + 1))


def groups(x: str, sizes: tuple[int, ...]) -> Made:
    for a, b in combinations(cut(len(x), sizes), 2):
        order = [
            *range(a.start), *b, *range(a.stop, b.start), *a, *range(b.stop, len(x)),
        ]  # fmt: skip
        yield "".join(x[i] for i in order), tuple(i + 1 for i in (*a, *b))


def shifted(x: str) -> Made:
    for lost in range(len(x)):
        left = x[:lost] + x[lost + 1 :]
        for at in range(len(x)):
            if abs(lost - at) < 2:
                continue
            for new in DIGITS + (LETTERS if is_s10(x) else ""):
                made = left[:at] + new + left[at:]
                # Otherwise the digit was not lost, or not added, at that place.
                if made[lost] != x[lost] and made[at] != x[at]:
                    low, high = sorted((lost, at))
                    yield made, tuple(range(low + 1, high + 2))


def neighbors(x: str) -> Iterator[str]:
    head, serial, tail = (x[:2], x[2:10], x[11:]) if is_s10(x) else ("", x[:-1], "")
    check = s10_check_digit if is_s10(x) else ean.calc_check_digit
    for step in (*range(-10, 0), *range(1, 11)):
        if 0 <= int(serial) + step < 10 ** len(serial):
            new = str(int(serial) + step).zfill(len(serial))
            yield head + new + check(new) + tail


def differing(x: str, y: str) -> tuple[int, ...]:
    return tuple(i for i, (a, b) in enumerate(zip(x, y, strict=True), 1) if a != b)


def reachable(x: str, sizes: tuple[int, ...]) -> dict[str, dict[str, set[tuple[int, ...]]]]:
    """kind (by the name of the library's enum member) -> altered text -> its positions."""
    made: dict[str, Made] = {
        "PAD_NEIGHBOR": ((y, differing(x, y)) for y in neighbors(x)),
        "ONE_DIGIT": one_digit(x),
        "ADJACENT_SWAP": swaps(x, 1),
        "JUMP_SWAP": swaps(x, 2),
        "TWIN": twins(x, 1),
        "JUMP_TWIN": twins(x, 2),
        "PHONETIC": phonetic(x),
        "DROPPED": dropped(x),
        "EXTRA": extra(x),
        "TRUNCATED": truncated(x),
        "GROUP_SWAP": groups(x, sizes),
        "SHIFTED": shifted(x),
    }
    found: dict[str, dict[str, set[tuple[int, ...]]]] = {}
    for kind, edits in made.items():
        by_text: defaultdict[str, set[tuple[int, ...]]] = defaultdict(set)
        for text, positions in edits:
            if text != x:
                by_text[text].add(positions)
        found[kind] = dict(by_text)
    return found

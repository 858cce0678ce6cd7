"""Printed groups, and cutting a number into named parts."""

from __future__ import annotations

from collections.abc import Iterable

from pairing.model import Part


def groups(text: str, sizes: tuple[int, ...]) -> tuple[str, ...]:
    """`text` cut into groups; the last size repeats and the tail may be short."""
    found, start, turn = [], 0, 0
    while start < len(text):
        size = sizes[min(turn, len(sizes) - 1)]
        found.append(text[start : start + size])
        start, turn = start + size, turn + 1
    return tuple(found)


def grouped(text: str, sizes: tuple[int, ...]) -> str:
    """The printed form: groups parted by one blank."""
    return " ".join(groups(text, sizes))


def cut(text: str, widths: Iterable[tuple[str, int]], *, rest: str) -> tuple[Part, ...]:
    """Named parts of a number whose last digit is its check digit."""
    parts, start = [], 0
    for name, width in widths:
        parts.append(Part(name=name, text=text[start : start + width], start=start))
        start += width
    if start < len(text) - 1:
        parts.append(Part(name=rest, text=text[start:-1], start=start))
    parts.append(Part(name="check digit", text=text[-1], start=len(text) - 1))
    return tuple(parts)

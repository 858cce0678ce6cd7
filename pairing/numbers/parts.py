"""Cutting a number into its named parts."""

from __future__ import annotations

from collections.abc import Iterable

from pairing.model import Part


def cut(text: str, widths: Iterable[tuple[str, int]], *, rest: str) -> tuple[Part, ...]:
    """Named parts of a number whose last digit is its check digit.

    widths: (name, digits) from the left. rest: the name of what is between them and the
    check digit.
    """
    parts, start = [], 0
    for name, width in widths:
        parts.append(Part(name=name, text=text[start : start + width], start=start))
        start += width
    if start < len(text) - 1:
        parts.append(Part(name=rest, text=text[start:-1], start=start))
    parts.append(Part(name="check digit", text=text[-1], start=len(text) - 1))
    return tuple(parts)

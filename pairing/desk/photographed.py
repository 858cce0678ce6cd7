"""Readings from a picture, named after the picture's SHA-256 so that the entry can name it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from pairing.model import Reading

_MARK = "picture "


def of_picture(readings: Iterable[Reading], digest: str) -> tuple[Reading, ...]:
    """The readings of one picture. digest: its SHA-256, 64 hexadecimal digits."""
    return tuple(replace(one, source=_MARK + digest) for one in readings)


def digests(readings: Iterable[Reading]) -> dict[str, str]:
    """The source of each reading from a picture to that picture's SHA-256."""
    sources = {one.source for one in readings if one.source.startswith(_MARK)}
    return {source: source.removeprefix(_MARK) for source in sorted(sources)}

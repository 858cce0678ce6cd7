"""Photos for the suite: as those of `tests/benchmarks/card_photos.py`, at the smallest scale of
their level, which takes two thirds of the time to draw and to read."""

from __future__ import annotations

from functools import partial

from tests.benchmarks import card_photos

photographed = partial(card_photos.photographed, px_per_mm=9.5)

"""A few inputs for every parser and door, and all that fell over once (`corpus/`). The millions
are fed by hand: `python -m tests.fuzz TARGET --minutes 10`."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.fuzz.mutating import mutated
from tests.fuzz.targets import feed, targets

CORPUS = Path(__file__).with_name("corpus")
FEW = {"photo": 50, "http": 30, "list": 40, "form": 15, "secrets": 30, "wedge": 60}
"""Inputs that take longest; of the others there are more."""


@pytest.mark.parametrize("name", targets())
def test_whatever_comes_is_taken_or_refused(name: str) -> None:
    target = targets()[name]()
    for good in target.corpus:
        feed(target, good)
    for path in sorted(CORPUS.glob(f"{name}-*.bin")):
        feed(target, path.read_bytes())

    @settings(max_examples=FEW.get(name, 150), database=None)
    @given(st.randoms(use_true_random=False))
    def fed(dice: object) -> None:
        feed(target, mutated(dice, target.corpus))  # type: ignore[arg-type]

    fed()


def test_what_falls_over_is_seen() -> None:
    """A parser that is broken on purpose."""
    target = targets()["number"]()

    def broken(data: bytes) -> None:
        assert b"\x00" not in data

    with pytest.raises(AssertionError):
        for data in (b"1", b"\x00"):
            feed(type(target)(broken, ()), data)

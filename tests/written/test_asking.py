"""Which digits are asked for, and that the rest then stands; on readings made up digit by
digit, independent of each other, so that every probability is known."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import pytest

from pairing.decide import MOST_ASKED, Thresholds, answered, doubts

BEST = "9407111201080805483016"  # tracking_number_data, couriers/usps.json, one digit changed
RULE = Thresholds(agrees=2.0, differs=3.0, differs_sure=0.9, asks=2.0)


@dataclass
class Digits:
    """P(text) is the product over its digits; doubts: position to (other digit, its chance)."""

    doubts: dict[int, tuple[str, float]]
    best: str = BEST

    def log_likelihoods(self, texts: Sequence[str]) -> list[float]:
        return [math.log(self._chance(text)) for text in texts]

    def _chance(self, text: str) -> float:
        if len(text) != len(self.best):
            return 1e-9
        chance = 1.0
        for at, (char, right) in enumerate(zip(text, self.best, strict=True), 1):
            other, share = self.doubts.get(at, ("", 1e-6))
            chance *= 1 - share if char == right else share if char == other else 1e-9
        return chance


def test_one_doubt_is_asked_alone() -> None:
    assert doubts(Digits({4: ("1", 0.4)}), RULE) == (4,)


def test_small_doubts_that_add_up_are_asked_too() -> None:
    # 0.1 against 0.9 is beyond the 2.0 that asks, yet three of them leave the rest at 0.73.
    many = dict.fromkeys((1, 2, 3), ("1", 0.1))
    found = doubts(Digits({**many, 8: ("5", 0.45)}), RULE)
    assert found is not None
    assert 8 in found
    assert 2 <= len(found) <= MOST_ASKED
    assert answered(Digits({**many, 8: ("5", 0.45)}), dict.fromkeys(found, "0"), RULE) is not None


@pytest.mark.parametrize("count", [MOST_ASKED, MOST_ASKED + 1])
def test_more_than_four_are_not_asked(count: int) -> None:
    found = doubts(Digits(dict.fromkeys(range(1, count + 1), ("1", 0.45))), RULE)
    assert (found is None) == (count > MOST_ASKED)


def test_the_answer_goes_in_its_place_and_nowhere_else() -> None:
    done = answered(Digits({4: ("1", 0.4)}), {4: "6"}, RULE)
    assert done is not None
    assert done.text == BEST[:3] + "6" + BEST[4:]
    assert done.rest == pytest.approx(1.0, abs=1e-3)
    assert answered(Digits({4: ("1", 0.4), 9: ("3", 0.3)}), {4: "6"}, RULE) is None
    assert answered(Digits({}), {}, RULE) is None


def test_nothing_read_asks_nothing() -> None:
    assert doubts(Digits({}, best=""), RULE) is None

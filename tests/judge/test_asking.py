"""Which digits are asked for, and that the rest then stands; on readings made up digit by
digit, independent of each other, so that every probability is known."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import pytest

from pairing.judge.box import MOST_ASKED, Stretch, Thresholds, answered, doubts, places

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


def one(at: int) -> Stretch:
    return Stretch(first=at, last=at)


def test_one_doubt_is_asked_alone() -> None:
    assert doubts(Digits({4: ("1", 0.4)}), RULE) == (one(4),)


def test_small_doubts_that_add_up_are_asked_too() -> None:
    # 0.1 against 0.9 is beyond the 2.0 that asks, yet three of them leave the rest at 0.73.
    many = dict.fromkeys((1, 2, 3), ("1", 0.1))
    found = doubts(Digits({**many, 8: ("5", 0.45)}), RULE)
    assert found is not None
    assert one(8) in found
    assert 2 <= len(places(found)) <= MOST_ASKED
    assert answered(Digits({**many, 8: ("5", 0.45)}), dict.fromkeys(found, "0"), RULE) is not None


@pytest.mark.parametrize("count", [MOST_ASKED, MOST_ASKED + 1])
def test_more_than_four_are_not_asked(count: int) -> None:
    found = doubts(Digits(dict.fromkeys(range(1, count + 1), ("1", 0.45))), RULE)
    assert (found is None) == (count > MOST_ASKED)


def test_the_answer_goes_in_its_place_and_nowhere_else() -> None:
    done = answered(Digits({4: ("1", 0.4)}), {one(4): "6"}, RULE)
    assert done is not None
    assert done.text == BEST[:3] + "6" + BEST[4:]
    assert done.rest == pytest.approx(1.0, abs=1e-3)
    assert answered(Digits({4: ("1", 0.4), 9: ("3", 0.3)}), {one(4): "6"}, RULE) is None
    assert answered(Digits({}), {}, RULE) is None


def test_nothing_read_asks_nothing() -> None:
    assert doubts(Digits({}, best=""), RULE) is None


@dataclass
class Texts:
    """P(text) as given; what is left is spread thin."""

    chances: dict[str, float]

    @property
    def best(self) -> str:
        return max(self.chances, key=lambda text: self.chances[text])

    def log_likelihoods(self, texts: Sequence[str]) -> list[float]:
        return [math.log(self.chances.get(text, 1e-9)) for text in texts]


TWICE = BEST[:9] + BEST[8:]
"""The ninth digit written twice."""


def test_of_equal_digits_the_whole_run_is_asked_for_where_their_number_is_in_doubt() -> None:
    # 940711120 1080...: the run of three ones (places 5 to 7), of which one may be missing.
    short = BEST[:6] + BEST[7:]
    (asked,) = doubts(Texts({BEST: 0.6, short: 0.4}), RULE) or ()
    assert (asked.first, asked.last, asked.is_open) == (5, 7, True)
    for answer, text in (("111", BEST), ("11", short)):
        done = answered(Texts({BEST: 0.6, short: 0.4}), {asked: answer}, RULE)
        assert done is not None
        assert done.text == text
        assert done.positions == tuple(range(5, 5 + len(answer)))
        assert done.rest == pytest.approx(1.0, abs=1e-3)


def test_what_may_have_been_missed_is_looked_for_between_its_neighbors() -> None:
    longer = BEST[:10] + "7" + BEST[10:]
    (asked,) = doubts(Texts({BEST: 0.55, longer: 0.45}), RULE) or ()
    assert (asked.first, asked.last, asked.is_open) == (10, 11, True)
    done = answered(Texts({BEST: 0.55, longer: 0.45}), {asked: BEST[9] + "7" + BEST[10]}, RULE)
    assert done is not None
    assert done.text == longer


def test_beside_what_may_have_been_missed_no_run_of_another_digit_is_asked_for() -> None:
    longer = BEST[:7] + "6" + BEST[7:]  # behind the three ones of places 5 to 7
    (asked,) = doubts(Texts({BEST: 0.55, longer: 0.45}), RULE) or ()
    assert (asked.first, asked.last, asked.is_open) == (7, 8, True)


def test_a_number_of_characters_that_is_sure_enough_is_not_asked_for() -> None:
    chances = {BEST: 0.8, BEST[:10] + "7" + BEST[10:]: 0.2}
    apart = math.log(0.8) - math.log(0.2)
    for asks, is_open in ((apart, False), (math.nextafter(apart, 9), True)):
        found = doubts(Texts(chances), replace(RULE, agrees=-9.0, asks=asks))
        assert any(one.is_open for one in found or ()) is is_open


def test_a_stroke_that_is_no_digit_can_be_answered_with_nothing() -> None:
    without = BEST[1:]
    (asked,) = doubts(Texts({BEST: 0.5, without: 0.49}), RULE) or ()
    assert (asked.first, asked.last) == (1, 1)
    done = answered(Texts({BEST: 0.5, without: 0.49}), {asked: ""}, RULE)
    assert done is not None
    assert (done.text, done.positions) == (without, ())


def test_answers_of_other_lengths_leave_the_others_in_their_places() -> None:
    chances = {BEST: 0.3, TWICE: 0.25, BEST[:-1] + "9": 0.25, TWICE[:-1] + "9": 0.2}
    asked = doubts(Texts(chances), RULE)
    assert asked is not None
    assert [(one.first, one.last, one.is_open) for one in asked] == [
        (8, 10, True),
        (22, 22, False),
    ]
    done = answered(Texts(chances), dict(zip(asked, (TWICE[7:11], "9"), strict=True)), RULE)
    assert done is not None
    assert done.text == TWICE[:-1] + "9"
    assert done.positions == (8, 9, 10, 11, 23)


def test_a_long_run_of_which_one_may_be_missing_means_keying_all() -> None:
    zeros = "94000000201080805483016"
    assert doubts(Texts({zeros: 0.6, zeros.replace("0", "", 1): 0.4}), RULE) is None


def test_a_letter_of_an_s10_number_is_asked_for_too() -> None:
    number = "RN473124829GB"  # UPU S10-12, example; the country's last letter in doubt
    found = doubts(Texts({number: 0.6, number[:-1] + "E": 0.4}), RULE)
    assert found == (one(13),)
    done = answered(Texts({number: 0.6, number[:-1] + "E": 0.4}), {one(13): "E"}, RULE)
    assert done is not None
    assert done.text == number[:-1] + "E"

"""Which digits are asked for, and that the rest then stands; on readings made up digit by
digit, independent of each other, so that every probability is known."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import pytest

from pairing.judge.box import MOST_ASKED, Stretch, Thresholds, answered, doubts, places
from pairing.judge.box.asked_characters import _log_sum, log_odds

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


def chances(best: str, *others: tuple[str, float]) -> Texts:
    """The rest of all probability is the best text's."""
    return Texts({best: 1 - sum(share for _, share in others), **dict(others)})


@pytest.mark.parametrize(
    ("text", "lost", "places"),
    [
        ("1123456789012345678902", 0, (1, 2)),
        ("9011345678901234567892", 2, (3, 4)),
        ("9012345678901234567811", 20, (21, 22)),
        ("9112111345678901234567", 4, (5, 7)),  # the digit is in other places too
    ],
)
def test_a_run_is_asked_for_from_end_to_end_and_nothing_beside_it(
    text: str, lost: int, places: tuple[int, int]
) -> None:
    short = text[:lost] + text[lost + 1 :]
    (asked,) = doubts(chances(text, (short, 0.4)), RULE) or ()
    assert (asked.first, asked.last) == places


@pytest.mark.parametrize(("longer", "place"), [("7" + BEST, 1), (BEST + "7", 22)])
def test_at_either_end_there_is_one_neighbor(longer: str, place: int) -> None:
    (asked,) = doubts(chances(BEST, (longer, 0.45)), RULE) or ()
    assert (asked.first, asked.last, asked.is_open) == (place, place, True)


def test_stretches_that_lie_beside_each_other_are_one_question() -> None:
    text = "1223456789012345678905"
    both = chances(text, (text[1:], 0.3), (text[:1] + text[2:], 0.3))
    assert [(one.first, one.last) for one in doubts(both, RULE) or ()] == [(1, 3)]
    apart = chances(text, (text[1:], 0.3), (text[:3] + text[4:], 0.3))
    assert [(one.first, one.last) for one in doubts(apart, RULE) or ()] == [(1, 1), (4, 4)]
    text = "1234556789012345678901"
    run = chances(text, (text[1:], 0.3), (text[:5] + text[6:], 0.3))
    assert [(one.first, one.last) for one in doubts(run, RULE) or ()] == [(1, 1), (5, 6)]


def put(at: int, digit: str) -> str:
    return BEST[: at - 1] + digit + BEST[at:]


def test_a_place_just_as_sure_as_is_asked_of_it_is_not_asked_for() -> None:
    said = chances(BEST, (put(4, "1"), 0.4), (put(9, "3"), 0.02))
    near = math.log(said.chances[BEST]) - math.log(0.02)
    for asks, asked in ((near, (4,)), (math.nextafter(near, 9), (4, 9))):
        assert places(doubts(said, replace(RULE, asks=asks)) or ()) == asked


def test_one_more_is_asked_for_until_the_rest_is_as_good_as_certain() -> None:
    """log odds of the rest: 1.5 with one place asked for; a second makes it certain, or ten
    further places that hold equally little more certain make it no better."""
    rule = replace(RULE, agrees=1.0, asks=0.5)
    second = chances(BEST, (put(4, "1"), 0.4), (put(9, "3"), 0.18))
    assert places(doubts(second, rule) or ()) == (4, 9)
    thin = [(put(at, "8"), 0.018) for at in (2, 3, 6, 7, 9, 11, 13, 15, 17, 19)]
    assert places(doubts(chances(BEST, (put(4, "1"), 0.4), *thin), rule) or ()) == (4,)


def test_the_rest_that_is_just_certain_enough_stands() -> None:
    said = Texts({BEST: 0.5, put(4, "1"): 0.375, put(9, "3"): 0.125})
    rest = log_odds(_log_sum([math.log(0.375), math.log(0.5)]))
    for agrees, is_enough in ((rest, True), (math.nextafter(rest, 9), False)):
        done = answered(said, {one(4): "1"}, replace(RULE, agrees=agrees))
        assert (done is not None) is is_enough


def test_of_what_may_be_in_a_place_only_the_likely_counts_towards_the_rest() -> None:
    """At most ten texts, none of which another beats by more than 10,000 to 1."""
    said = Texts({BEST: 0.6, put(4, "1"): 0.3999, put(4, "2"): 0.00001})
    done = answered(said, {one(4): "1"}, RULE)
    assert done is not None
    assert done.rest == pytest.approx(0.9999, abs=1e-7)
    # An open stretch has hundreds; the eleventh likeliest is left out.
    short = BEST[:6] + BEST[7:]
    more = [BEST[:4] + new + BEST[7:] for new in ("1112", "1113", "1114", "1115", "1116", "1117",
                                                  "1118", "1119", "1110", "1211")]  # fmt: skip
    share = dict.fromkeys(more, 0.01)
    wide = Texts({BEST: 0.5, short: 0.4, **share})
    asked = Stretch(first=5, last=7, is_open=True)
    done = answered(wide, {asked: "111"}, RULE)
    assert done is not None
    assert done.rest == pytest.approx(0.98, abs=1e-7)


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

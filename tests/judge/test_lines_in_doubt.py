"""What is said of a blind reading that is not sure, and what a person's answer settles."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from pairing.judge.box import Stretch
from pairing.judge.box.asked_characters import answered
from pairing.model import How, Quad, Side, Verdict
from tests.judge.readings import PACKAGE, PLACE, RULE, codes, put, read, seen, weighed


@pytest.mark.parametrize(
    ("at", "answer", "verdict"),
    [
        (18, PACKAGE[17], Verdict.UNREAD),  # the neighbor before it is another digit
        (18, "7", Verdict.DIFFERS),
        (11, PACKAGE[10], Verdict.UNREAD),
        (11, "7", Verdict.DIFFERS),  # the neighbors on both sides are the label's digit
    ],
)
def test_a_rest_in_doubt_differs_only_by_the_digit_that_a_person_read(
    at: int, answer: str, verdict: Verdict
) -> None:
    # Digit 15 is not the label's, and with 0.885 for the rest that is not sure enough (0.9).
    best = put(PACKAGE, 15, "8")
    what = seen(best, chances={best: 0.445, put(best, at, "7"): 0.44})
    found, said = weighed(what, answers={Stretch(first=at, last=at): answer})
    assert said.verdict is verdict
    assert bool(found.readings) is (verdict is Verdict.DIFFERS)


def test_a_rest_that_is_just_sure_enough_differs() -> None:
    best = put(PACKAGE, 15, "8")
    what = seen(best, chances={best: 0.445, put(best, 18, "7"): 0.44})
    answers = {Stretch(first=18, last=18): PACKAGE[17]}
    assert what.evidence is not None
    done = answered(what.evidence, answers, RULE)
    assert done is not None
    for least, verdict in (
        (done.rest, Verdict.DIFFERS), (math.nextafter(done.rest, 1), Verdict.UNREAD),
    ):  # fmt: skip
        rule = replace(RULE, differs_sure=least)
        assert weighed(what, answers=answers, rule=rule)[1].verdict is verdict


@pytest.mark.parametrize(
    ("how", "places", "verdict"),
    [
        (How.HAND, (15,), Verdict.UNREAD),
        (How.PRINT, (15,), Verdict.DIFFERS),
        (How.HAND, (15, 16), Verdict.DIFFERS),  # two digits of the label that are not the same
    ],
)
def test_a_rest_that_is_one_misread_digit_of_a_hand_must_beat_the_label_by_far(
    how: How, places: tuple[int, ...], verdict: Verdict
) -> None:
    assert PACKAGE[14] != PACKAGE[15]
    best = PACKAGE
    for place in places:
        best = put(best, place, "8")
    what = seen(best, how, chances={best: 0.445, put(best, 18, "7"): 0.44})
    rule = replace(RULE, differs_sure=0.5, differs_one=99.0)
    answers = {Stretch(first=18, last=18): PACKAGE[17]}
    assert weighed(what, answers=answers, rule=rule)[1].verdict is verdict


def test_a_line_is_placed_from_its_first_character_to_its_last() -> None:
    first = Quad(top_left=(1, 1), top_right=(2, 1), bottom_right=(2, 2), bottom_left=(1, 2))
    last = Quad(top_left=(8, 1), top_right=(9, 1), bottom_right=(9, 2), bottom_left=(8, 2))
    found, _ = weighed(seen(digit_quads=(first, first, last)))
    assert found.readings[0].quad == first.through(last)
    found, _ = weighed(seen())
    assert found.readings[0].quad == PLACE


def test_print_beside_bars_is_noted_only_where_it_was_not_read_surely() -> None:
    bars = read(Side.BOX, PACKAGE)
    for has_bars, chance, is_noted in (
        (True, 0.5, True), (True, 0.97, False), (False, 0.5, False), (False, 0.97, False),
    ):  # fmt: skip
        what = seen(PACKAGE, How.PRINT, has_bars=has_bars, chances={PACKAGE: chance})
        found, _ = weighed(what, bars)
        assert ("strip-print-unread" in codes(found.findings)) is is_noted


def test_a_line_that_is_in_doubt_all_over_is_to_be_keyed() -> None:
    found, _ = weighed(seen(chances={PACKAGE: 0.01}))
    (doubt,) = found.findings
    assert doubt.code == "box-doubtful"
    assert dict(doubt.parameters) == {"is_part_of_bars": False}
    part, _ = weighed(seen(PACKAGE[:-2], How.PRINT, has_bars=True), read(Side.BOX, PACKAGE))
    (cut,) = part.findings
    assert (cut.code, dict(cut.parameters)) == ("box-doubtful", {"is_part_of_bars": True})


def test_how_many_characters_were_read_is_said() -> None:
    other = put(PACKAGE, 10, "7")
    found, _ = weighed(seen(chances={PACKAGE: 0.55, other: 0.43}))
    (doubt,) = found.findings
    assert dict(doubt.parameters) == {
        "length": 22, "is_digits": True, "is_count_open": False, "spoilt": (),
    }  # fmt: skip
    assert "22 digits were read in the box, but digit 10 is uncertain" in doubt.message


def test_a_strips_bars_are_held_against_the_line_and_nothing_else_is() -> None:
    """Only bars in the box, and only a part of what they say, make a line "found in part"."""
    part = seen(PACKAGE[:-2], How.PRINT)
    for beside in (read(Side.BOX, PACKAGE, How.PRINT), read(Side.UNPLACED, PACKAGE)):
        found, _ = weighed(part, beside)
        assert "box-doubtful" not in codes(found.findings)


def test_a_line_shorter_by_a_whole_group_is_looked_for_again_and_does_not_differ() -> None:
    for left_out, verdict, code in (
        (4, Verdict.UNREAD, "box-group-missing"), (3, Verdict.DIFFERS, "box-truncated"),
    ):  # fmt: skip
        _, said = weighed(seen(PACKAGE[left_out:]))
        assert said.verdict is verdict
        assert code in codes(said.findings)


def test_writing_over_the_edge_holds_up_only_what_would_differ() -> None:
    swapped = put(put(PACKAGE, 3, PACKAGE[3]), 4, PACKAGE[2])
    for what, verdict, is_said in (
        (seen(is_over_edge=True), Verdict.AGREES, False),
        (seen(swapped, is_over_edge=True), Verdict.UNREAD, True),
        (seen(chances={PACKAGE: 0.6}, is_over_edge=True), Verdict.UNREAD, False),
    ):
        _, said = weighed(what)
        assert said.verdict is verdict
        assert ("box-over-edge" in codes(said.findings)) is is_said

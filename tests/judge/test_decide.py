"""The rule, on readings made up of likelihoods; the errors as `compare` itself names them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import pytest

from pairing.compare import CopyError, compare
from pairing.judge.box import Stretch, Thresholds, decide, rivals
from pairing.judge.box.asked_characters import log_odds
from pairing.model import Verdict

LABEL = "9407111201080805483016"  # tracking_number_data, couriers/usps.json, one digit changed
RULE = Thresholds(agrees=2.0, differs=3.0, differs_sure=0.9, asks=2.0)


@dataclass
class Said:
    """A reading with known likelihoods."""

    best: str
    chances: dict[str, float] = field(default_factory=dict)

    def log_likelihoods(self, texts: Sequence[str]) -> list[float]:
        return [math.log(self.chances.get(text, 1e-9)) for text in texts]


def _decide(said: Said, label: str = LABEL, **more: object):  # type: ignore[no-untyped-def]
    return decide(said, label, thresholds=RULE, group_sizes=(4,), **more)  # type: ignore[arg-type]


def test_agrees_only_where_the_label_beats_everything() -> None:
    assert _decide(Said(LABEL, {LABEL: 0.95})).verdict is Verdict.AGREES
    assert _decide(Said(LABEL, {LABEL: 0.80})).verdict is Verdict.UNREAD


def test_a_likely_label_that_is_not_the_best_never_agrees() -> None:
    other = "5" + LABEL[1:]
    said = Said(other, {other: 0.5, LABEL: 0.49})
    assert _decide(said).verdict is Verdict.UNREAD


def test_differs_needs_its_own_certainty() -> None:
    other = LABEL[:3] + LABEL[4] + LABEL[3] + LABEL[5:]
    assert _decide(Said(other, {other: 0.7})).verdict is Verdict.UNREAD
    done = _decide(Said(other, {other: 0.97}))
    assert done.verdict is Verdict.DIFFERS
    assert done.rival == other


def test_a_text_in_doubt_differs_where_the_label_is_ruled_out() -> None:
    swapped = LABEL[:3] + LABEL[4] + LABEL[3] + LABEL[5:]
    either = swapped[:9] + "7" + swapped[10:]
    said = Said(swapped, {swapped: 0.6, either: 0.39})
    far = replace(RULE, differs_far=10.0)

    def verdict(chance: float, rule: Thresholds) -> Verdict:
        said.chances[LABEL] = chance
        return decide(said, LABEL, thresholds=rule, group_sizes=(4,)).verdict

    assert verdict(1e-6, RULE) is Verdict.UNREAD
    assert verdict(1e-3, far) is Verdict.UNREAD
    assert verdict(1e-6, far) is Verdict.DIFFERS
    done = decide(said, LABEL, thresholds=far, group_sizes=(4,))
    assert (done.doubtful, done.key_all) == ((Stretch(first=10, last=10),), False)


def test_less_than_half_of_all_probability_never_differs() -> None:
    texts = [LABEL[:9] + digit + LABEL[10:] for digit in "123"]
    said = Said(texts[0], dict.fromkeys(texts, 0.33) | {LABEL: 1e-9})
    far = replace(RULE, differs_far=10.0)
    assert decide(said, LABEL, thresholds=far, group_sizes=(4,)).verdict is Verdict.UNREAD


def test_a_threshold_that_is_just_met_is_met() -> None:
    other = LABEL[:3] + LABEL[4] + LABEL[3] + LABEL[5:]

    def verdict(best: str, chances: dict[str, float], **rule: float) -> Verdict:
        said = Said(best, chances)
        return decide(said, LABEL, thresholds=replace(RULE, **rule), group_sizes=(4,)).verdict

    sure = math.log(0.95) - math.log(0.05)
    margin = log_odds(math.log(0.95))
    assert margin == pytest.approx(sure)
    assert verdict(LABEL, {LABEL: 0.95}, agrees=margin) is Verdict.AGREES
    assert verdict(LABEL, {LABEL: 0.95}, agrees=math.nextafter(margin, 9)) is Verdict.UNREAD
    assert verdict(other, {other: 0.9}) is Verdict.DIFFERS
    for beaten in ({"differs": math.log(0.9) - math.log(1e-9)},
                   {"differs": 99.0, "differs_far": math.log(0.9) - math.log(1e-9)}):  # fmt: skip
        assert verdict(other, {other: 0.9}, **beaten) is Verdict.DIFFERS
    assert verdict(other, {other: 0.5}, differs_far=10.0) is Verdict.DIFFERS


def test_a_spoiled_digit_never_agrees_and_is_asked_for() -> None:
    done = _decide(Said(LABEL, {LABEL: 0.99}), spoiled=(10,))
    assert done.verdict is Verdict.UNREAD
    assert (done.doubtful, done.key_all) == ((Stretch(first=10, last=10),), False)


def test_a_spoiled_digit_is_no_difference_but_another_digit_is_one() -> None:
    swapped = LABEL[:3] + LABEL[4] + LABEL[3] + LABEL[5:]
    sure = Said(swapped, {swapped: 0.99})
    assert _decide(sure, spoiled=(10,)).verdict is Verdict.DIFFERS
    assert _decide(sure, spoiled=(4, 5)).verdict is Verdict.UNREAD
    longer = LABEL[:5] + LABEL[4:]
    assert _decide(Said(longer, {longer: 0.99}), spoiled=(10,)).verdict is Verdict.UNREAD


def test_many_spoiled_digits_mean_keying_all() -> None:
    done = _decide(Said(LABEL, {LABEL: 0.99}), spoiled=(1, 2, 3, 4, 5))
    assert (done.doubtful, done.key_all) == ((), True)


def test_another_pieces_number_is_named() -> None:
    other = "9205500000000000000000"
    done = _decide(Said(other, {other: 0.99}), others=(other,))
    assert (done.verdict, done.other, done.error) == (
        Verdict.DIFFERS, other, CopyError.OTHER_PIECE,
    )  # fmt: skip


def test_one_doubtful_digit_is_asked_alone() -> None:
    other = LABEL[:9] + "7" + LABEL[10:]
    done = _decide(Said(LABEL, {LABEL: 0.6, other: 0.39}))
    assert (done.doubtful, done.key_all) == ((Stretch(first=10, last=10),), False)


def test_where_the_length_is_in_doubt_the_stretch_is_asked_for_as_one() -> None:
    done = _decide(Said(LABEL, {LABEL: 0.6, LABEL[:-1]: 0.39}))
    assert (done.doubtful, done.key_all) == ((Stretch(first=22, last=22, is_open=True),), False)


def test_a_length_in_doubt_in_many_places_means_keying_all() -> None:
    ends = {LABEL[n : n + 20]: 0.2 for n in range(3)}
    done = _decide(Said(LABEL, {LABEL: 0.3, **ends}))
    assert (done.doubtful, done.key_all) == ((), True)


def test_nothing_read_is_unread() -> None:
    assert _decide(Said("", {"": 0.99})).verdict is Verdict.UNREAD


@pytest.mark.parametrize("label", [LABEL, "70191640000008004105", "RB123456785GB"])
def test_rivals_are_what_compare_calls_them(label: str) -> None:
    sizes = (2, 3, 3, 3, 2) if len(label) == 13 else (4,)
    for rival in rivals(label, group_sizes=sizes):
        seen = compare(label, rival.text, group_sizes=sizes, is_valid=lambda _: False)
        assert rival.error in (seen.error, *seen.also), rival


def test_a_text_that_has_just_the_share_that_is_asked_for_differs() -> None:
    # `Thresholds.differs_sure`: what share of all probability it must have; that much is enough.
    other = "5" + LABEL[1:]
    rule = replace(RULE, differs_sure=0.75)
    for share, verdict in ((0.75, Verdict.DIFFERS), (0.74, Verdict.UNREAD)):
        said = Said(other, {other: share, LABEL: 0.001})
        done = decide(said, LABEL, thresholds=rule, group_sizes=(4,))
        assert done.verdict is verdict


def test_one_digit_by_hand_differs_only_by_far() -> None:
    """It may be the reader's error; two are hardly ever."""
    one, two = "5" + LABEL[1:], "53" + LABEL[2:]
    rule = replace(RULE, differs_one=12.0)

    def verdict(text: str, chance: float, *, is_by_hand: bool = True) -> Verdict:
        said = Said(text, {text: 0.97, LABEL: chance})
        return decide(
            said, LABEL, thresholds=rule, group_sizes=(4,), is_by_hand=is_by_hand
        ).verdict  # fmt: skip

    assert verdict(one, 1e-4) is Verdict.UNREAD
    assert verdict(one, 1e-6) is Verdict.DIFFERS
    assert verdict(one, 1e-4, is_by_hand=False) is Verdict.DIFFERS
    assert verdict(two, 1e-4) is Verdict.DIFFERS


def test_one_shape_of_a_hand_misread_each_time_counts_as_often() -> None:
    """All that differs is one digit of the label's, in two places: a 6 closed at its top."""
    label = "70668369228629483719"
    twice, swapped = "70638369228329483719", "70683669228629483719"
    rule = replace(RULE, differs_one=12.0)

    def verdict(text: str, chance: float) -> Verdict:
        said = Said(text, {text: 0.97, label: chance})
        return decide(said, label, thresholds=rule, group_sizes=(4,), is_by_hand=True).verdict

    assert verdict(twice, 1e-9) is Verdict.UNREAD
    assert verdict(twice, 1e-11) is Verdict.DIFFERS
    assert verdict(swapped, 1e-9) is Verdict.DIFFERS

"""What a blind reading comes to beside the label's number."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pairing.findings import Weight
from pairing.judge import Weighed, judge, weigh
from pairing.judge.box import Stretch, Unread
from pairing.model import How, Side, TrackingNumber, Verdict
from pairing.numbers import identify
from tests.judge.readings import CARD, OTHER, PACKAGE, RULE, codes, put, read, seen, weighed


def test_a_sure_line_that_repeats_the_label_agrees() -> None:
    _, answer = weighed(seen())
    assert answer.verdict is Verdict.AGREES
    assert answer.written_by is How.HAND


@pytest.mark.parametrize("how", [How.HAND, How.PRINT])
def test_a_sure_line_that_says_another_number_differs(how: How) -> None:
    swapped = put(put(PACKAGE, 3, PACKAGE[3]), 4, PACKAGE[2])
    _, answer = weighed(seen(swapped, how))
    assert answer.verdict is Verdict.DIFFERS
    assert answer.written == swapped
    assert answer.written_by is how
    assert "box-adjacent-swap" in codes(answer.findings)


def test_a_line_in_doubt_is_unread_and_says_which_digits() -> None:
    other = put(PACKAGE, 10, "7")
    found, answer = weighed(seen(chances={PACKAGE: 0.55, other: 0.43}))
    assert answer.verdict is Verdict.UNREAD
    assert answer.written is None
    (doubt,) = [f for f in answer.findings if f.code == "box-digits-doubtful"]
    assert doubt.positions == (10,)
    assert found.asks == (Stretch(first=10, last=10),)
    assert doubt.weight is Weight.DOUBT
    assert "box-unread" not in codes(answer.findings)
    assert PACKAGE not in doubt.message


@pytest.mark.parametrize(
    ("answer", "verdict"), [(PACKAGE[9], Verdict.AGREES), ("7", Verdict.DIFFERS)]
)
def test_an_answer_settles_the_digit_and_the_rest_stands(answer: str, verdict: Verdict) -> None:
    other = put(PACKAGE, 10, "7")
    _, said = weighed(
        seen(chances={PACKAGE: 0.55, other: 0.43}), answers={Stretch(first=10, last=10): answer}
    )
    assert said.verdict is verdict
    assert said.written_by is How.PART_KEYED
    assert said.written == put(PACKAGE, 10, answer)


def test_a_line_in_doubt_that_cannot_be_the_labels_differs_and_says_what_is_in_doubt() -> None:
    swapped = put(put(PACKAGE, 3, PACKAGE[3]), 4, PACKAGE[2])
    either = put(swapped, 10, "7")
    what = seen(swapped, chances={swapped: 0.6, either: 0.39, PACKAGE: 1e-8})
    far = replace(RULE, differs_far=10.0)
    number = identify(PACKAGE)
    assert isinstance(number, TrackingNumber)
    sides = [read(Side.CARD, CARD), read(Side.LABEL, PACKAGE)]
    found = weigh(what, sides, article=number, card=CARD, others={}, thresholds=far)
    answer = judge([*sides, *found.readings], found=found.findings)
    assert answer.verdict is Verdict.DIFFERS
    (note,) = [f for f in answer.findings if f.code == "box-digits-unsure"]
    assert (note.positions, note.weight) == ((10,), Weight.NOTE)
    assert found.asks == ()


def test_a_spoiled_digit_is_asked_for_however_surely_it_was_read() -> None:
    sure = seen(chances={PACKAGE: 0.999}, spoiled=(10,))
    found, said = weighed(sure)
    assert said.verdict is Verdict.UNREAD
    assert found.asks == (Stretch(first=10, last=10),)
    (doubt,) = [f for f in said.findings if f.code == "box-digits-doubtful"]
    assert "10: written over or struck out" in doubt.message
    for answer, verdict in ((PACKAGE[9], Verdict.AGREES), ("7", Verdict.DIFFERS)):
        _, said = weighed(sure, answers={Stretch(first=10, last=10): answer})
        assert said.verdict is verdict
        assert said.written_by is How.PART_KEYED
    _, said = weighed(sure, answers={Stretch(first=3, last=3): PACKAGE[2]})
    assert said.verdict is Verdict.UNREAD


def test_without_a_label_a_spoiled_digit_keeps_the_box_unread() -> None:
    sure = seen(chances={PACKAGE: 0.999}, spoiled=(10,))
    found, _ = weighed(sure, label=None)
    assert found.readings == ()
    assert found.asks == (Stretch(first=10, last=10),)


def test_an_answer_does_not_make_a_doubtful_rest_sure() -> None:
    two = {PACKAGE: 0.4, put(PACKAGE, 10, "7"): 0.3, put(PACKAGE, 15, "8"): 0.3}
    _, said = weighed(seen(chances=two), answers={Stretch(first=10, last=10): PACKAGE[9]})
    assert said.verdict is Verdict.UNREAD


def test_without_a_label_nothing_agrees() -> None:
    _, sure = weighed(seen(), label=None)
    assert sure.verdict is Verdict.UNREAD
    assert sure.written == PACKAGE
    _, unsure = weighed(seen(chances={PACKAGE: 0.6}), label=None)
    assert unsure.written is None


def test_the_cards_own_number_in_the_box_differs_even_without_a_label() -> None:
    for label in (PACKAGE, None):
        _, answer = weighed(seen(CARD), label=label)
        assert answer.verdict is Verdict.DIFFERS
        assert "box-card-own" in codes(answer.findings)


@pytest.mark.parametrize("reason", list(Unread))
def test_each_reason_is_told_and_a_person_may_overrule_it(reason: Unread) -> None:
    nothing = seen(evidence=None, reason=reason, digit_probabilities=())
    _, answer = weighed(nothing)
    assert answer.verdict is Verdict.UNREAD
    (told,) = [f for f in answer.findings if f.weight is Weight.DOUBT]
    assert (
        told.code
        == {
            Unread.EMPTY: "box-empty",
            Unread.NO_NUMBER: "box-illegible",
            Unread.SEVERAL: "box-two-numbers",
            Unread.OTHER_WRITING: "box-struck-out",
            Unread.CUT: "box-cut",
            Unread.STRUCK: "box-struck",
            Unread.BARS_UNREAD: "box-bars-unread",
            Unread.FORM_UNKNOWN: "form-unknown",
        }[reason]
    )
    _, keyed = weighed(nothing, read(Side.BOX, PACKAGE, How.KEYED))
    assert keyed.verdict is Verdict.AGREES


def test_keying_the_label_s_number_does_not_overrule_a_sure_reading() -> None:
    keyed = read(Side.BOX, PACKAGE, How.KEYED)
    _, answer = weighed(seen(put(PACKAGE, 5, "0")), keyed)
    assert answer.verdict is Verdict.UNREAD
    assert "box-keyed-otherwise" in codes(answer.findings)
    _, doubted = weighed(seen(chances={PACKAGE: 0.5}), keyed)
    assert doubted.verdict is Verdict.AGREES


def test_a_strips_bars_and_print_both_count() -> None:
    bars = read(Side.BOX, PACKAGE)
    _, same = weighed(seen(PACKAGE, How.PRINT, has_bars=True), bars)
    assert same.verdict is Verdict.AGREES
    _, other = weighed(seen(put(PACKAGE, 5, "0"), How.PRINT, has_bars=True), bars)
    assert other.verdict is Verdict.DIFFERS
    assert "box-says-two-things" in codes(other.findings)
    _, unclear = weighed(seen(PACKAGE, How.PRINT, has_bars=True, chances={PACKAGE: 0.5}), bars)
    assert unclear.verdict is Verdict.AGREES
    assert "strip-print-unread" in codes(unclear.findings)
    _, wrong_bars = weighed(seen(PACKAGE, How.PRINT, has_bars=True), read(Side.BOX, OTHER))
    assert wrong_bars.verdict is Verdict.DIFFERS


@pytest.mark.parametrize("part", [PACKAGE[:-2], PACKAGE[4:]])
def test_print_that_was_found_in_part_is_not_called_different(part: str) -> None:
    _, judgment = weighed(
        seen(part, how=How.PRINT, has_bars=True), read(Side.BOX, PACKAGE, How.BARCODE)
    )
    assert judgment.verdict is Verdict.UNREAD
    # A whole number of its own is another matter, and so are bars that differ themselves.
    _, judgment = weighed(seen(OTHER, has_bars=True), read(Side.BOX, PACKAGE, How.BARCODE))
    assert judgment.verdict is Verdict.DIFFERS
    _, judgment = weighed(seen(OTHER[:-2], has_bars=True), read(Side.BOX, OTHER, How.BARCODE))
    assert judgment.verdict is Verdict.DIFFERS


def test_another_pieces_number_is_named_surely_read_or_not() -> None:
    others = {OTHER: "piece 7", PACKAGE: "this piece", CARD: "the card of this piece"}
    _, sure = weighed(seen(OTHER), others=others)
    assert sure.verdict is Verdict.DIFFERS
    assert "piece 7" in " ".join(f.message for f in sure.findings)
    _, unsure = weighed(seen(OTHER, chances={OTHER: 0.5}), others=others)
    assert unsure.verdict is Verdict.UNREAD
    assert "piece 7" in " ".join(f.message for f in unsure.findings)
    _, own = weighed(seen(CARD, chances={CARD: 0.5}), others=others)
    assert "the card's own" in " ".join(f.message for f in own.findings)


def test_a_box_found_by_shape_says_so() -> None:
    _, answer = weighed(seen(is_by_shape=True))
    assert "box-by-shape" in codes(answer.findings)
    assert answer.verdict is Verdict.AGREES


def test_writing_over_the_edge_may_agree_but_is_not_called_different() -> None:
    _, same = weighed(seen(is_over_edge=True))
    assert same.verdict is Verdict.AGREES
    _, other = weighed(seen(put(PACKAGE, 5, "0"), is_over_edge=True))
    assert other.verdict is Verdict.UNREAD
    assert "box-over-edge" in codes(other.findings)


def test_nothing_seen_adds_nothing() -> None:
    found, answer = weighed(None)
    assert found == Weighed()
    assert "box-unread" in codes(answer.findings)

"""Labels and cards put together by what was read in the box.

The lots are invented; check digits by python-stdnum's gs1 rule (mod 10, weights 3 and 1), the
errors' kinds from the published lists that `pairing.compare.kinds` names.
"""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from stdnum import ean

from pairing.audit.matching.assignment import MOST_MARGIN, Edge, Edges, assigned
from pairing.audit.matching.candidates import Candidates
from pairing.audit.matching.cards_to_labels import (
    LEAST_MARGIN,
    MISSING,
    Box,
    Match,
    _prior,
    _settled,
    least_margin_to_agree,
    match,
)
from pairing.audit.matching.copying import Copying
from pairing.compare import CopyError
from pairing.compare.error_shares import SHARES
from pairing.judge.box import rivals
from pairing.numbers import is_number

SIZES = (4, 4, 4, 4, 4, 2)


def label(serial: int, head: str = "95890710527") -> str:
    data = f"{head}{serial:010}"
    return data + ean.calc_check_digit(data)


def lot(count: int, start: int = 31_400) -> list[str]:
    return [label(start + n) for n in range(count)]


def read(text: str, chance: float = 0.996, own: str | None = None, known: str | None = None) -> Box:
    """A box that reads `text` with this chance, and any other text with next to none."""

    def log_chances(texts: Sequence[str]) -> list[float]:
        return [math.log(chance if one == text else (1 - chance) * 1e-4) for one in texts]

    return Box(best=text, log_chances=log_chances, own=own, known=known)


def test_shares_are_all_of_the_errors() -> None:
    assert sum(SHARES.values()) == pytest.approx(1, abs=0.005)


def test_every_right_card_finds_its_label() -> None:
    labels = lot(300)
    cards = labels[:]
    random.Random(1).shuffle(cards)
    found = match(labels, [read(text) for text in cards])
    assert [one.label for one in found] == cards
    assert all(one.is_sure for one in found)


def test_one_photo_missing_on_either_side() -> None:
    labels = lot(60)
    found = match(labels[:-3], [read(text) for text in labels[3:]])
    assert [one.label for one in found] == [*labels[3:-3], None, None, None]
    assert all(one.is_sure for one in found[:-3])


@pytest.mark.parametrize("error", sorted(set(SHARES) - {
    CopyError.CARD_OWN, CopyError.OTHER_PIECE, CopyError.PAD_NEIGHBOR,
    CopyError.SEVERAL_DIGITS}))  # fmt: skip
def test_a_copying_error_does_not_hide_the_partner(error: CopyError) -> None:
    """In a lot of 100 consecutive numbers in which all other cards are right, the one card
    with an error belongs to the one label that is left: found, or left open; no match that
    counts is wrong."""
    labels = lot(100, start=77_305_500)
    rng = random.Random(7)
    place, wrong = next(
        (place, texts)
        for place in rng.sample(range(100), 100)
        if (texts := [one.text for one in rivals(labels[place], group_sizes=SIZES)
                      if one.error is error])
    )  # fmt: skip
    text = rng.choice(wrong)
    boxes = [read(text if n == place else labels[n]) for n in range(100)]
    found = match(labels, boxes)
    for own, one in zip(labels, found, strict=True):
        assert one.label == own or not one.is_sure
    assert sum(one.is_sure for one in found) >= 98 or error is CopyError.TRUNCATED


def test_two_cards_that_claim_one_label_are_left_open() -> None:
    """One of them holds another piece's number: which one, the boxes cannot tell."""
    labels = lot(50)
    cards = [labels[9], *labels[1:]]
    found = match(labels, [read(text) for text in cards])
    assert not found[0].is_sure
    assert not found[9].is_sure
    assert sum(one.is_sure for one in found) == 48


def test_a_wrong_partner_that_fits_is_not_proven() -> None:
    """The card of labels[8] holds the next piece's number; that piece's own card has a swap. What
    fits best is wrong, and nothing in the boxes shows it; a list that names the pairs does."""
    labels = lot(50)
    swapped = f"{labels[9][:18]}{labels[9][19]}{labels[9][18]}{labels[9][20:]}"
    texts = [*labels[:8], labels[9], swapped, *labels[10:]]
    found = match(labels, [read(text, chance=0.9999) for text in texts])
    assert found[8].label == labels[9]
    assert found[8].margin < least_margin_to_agree("1e-4")  # it agreed, when 30 to 1 was enough
    listed = match(
        labels,
        [read(text, chance=0.9999, known=own) for text, own in zip(texts, labels, strict=True)],
    )
    assert [one.label for one in listed] == labels


def test_the_margin_of_an_agreeing_pair_follows_from_the_strictness() -> None:
    """Of 10,000 pairs 100 differ (ERROR_RATE); at 1 in 10,000 of these, 1 in a million of all."""
    assert math.exp(least_margin_to_agree("1e-4")) == pytest.approx(1e6)
    assert least_margin_to_agree("1e-5") > least_margin_to_agree("1e-4") > LEAST_MARGIN


def test_another_pieces_number_tells_no_partner() -> None:
    """The card of labels[0] holds the number of labels[9]; the neighbor of that one has no
    card, and is not given this one for being near."""
    labels = lot(50)
    boxes = [read(labels[9]), *(read(text) for text in labels[1:10] + labels[11:])]
    found = match(labels, boxes)
    assert all(one.label != labels[10] for one in found)


def test_a_label_whose_number_is_in_two_boxes_goes_with_the_one_that_only_it_explains() -> None:
    """The card of labels[8] holds the next piece's number; that piece's own card has two groups
    exchanged, which no misreading of two digits leads to, and no other label."""
    labels = lot(100)
    own = labels[9]
    swapped = own[:12] + own[16:20] + own[12:16] + own[20:]

    def log_chances(texts: Sequence[str]) -> list[float]:
        return [math.log(0.996 if one == swapped else 1e-30) for one in texts]

    boxes = [read(text) for text in [*labels[:8], own, *labels[10:]]]
    found = match(labels, [*boxes, Box(best=swapped, log_chances=log_chances)])
    assert found[-1].label == own
    assert found[-1].is_probable
    assert not found[8].is_sure


def test_a_doubtful_number_of_a_label_that_is_missing_is_given_to_no_other() -> None:
    """Its first digit is in doubt: what was read begins as no label of the lot does."""
    labels = [label(60_717_390 + n, "95890733614") for n in range(100)]
    own, near = labels[39], labels[29]
    assert (own[-3:], near[-3:]) == ("291", "192")
    misread = f"3{own[1:]}"

    def log_chances(texts: Sequence[str]) -> list[float]:
        return [math.log({misread: 0.5, own: 0.3}.get(one, 2e-6)) for one in texts]

    boxes = [read(one) for one in labels if one not in (own, near)]
    boxes.append(Box(best=misread, log_chances=log_chances))
    assert not match([one for one in labels if one != own], boxes)[-1].is_sure


def test_a_list_names_the_partner_that_the_box_does_not() -> None:
    labels = lot(50)
    boxes = [read(labels[9], known=labels[0])]
    boxes += [read(text, known=text) for text in labels[1:]]
    found = match(labels, boxes)
    assert [one.label for one in found] == labels
    assert found[9].is_sure


def test_an_unread_box_has_no_partner_unless_a_list_names_it() -> None:
    labels = lot(10)
    nothing = Box(best="", log_chances=lambda texts: [-math.inf] * len(texts))
    named = Box(best="", log_chances=nothing.log_chances, known=labels[4])
    found = match(labels, [nothing, named])
    assert found[0].label is None
    assert found[1].label == labels[4]


def test_the_cards_own_number_in_the_box_names_no_partner() -> None:
    labels = lot(5)
    own = "9590940258780038231151"  # public record NOV-2020-DV-0495
    assert match(labels, [read(own, own=own)])[0].label is None


def test_a_doubtful_reading_is_settled_by_what_the_others_leave() -> None:
    """Two digits in doubt, both numbers in the lot; the other one's own card is clear."""
    labels = lot(30)
    a, b = labels[4], labels[5]

    def log_chances(texts: Sequence[str]) -> list[float]:
        return [math.log({a: 0.4, b: 0.5}.get(one, 1e-8)) for one in texts]

    boxes = [Box(best=b, log_chances=log_chances), *(read(one) for one in labels if one != a)]
    found = match(labels, boxes)
    assert found[0].label == a
    assert found[0].is_sure


@pytest.mark.parametrize("seed", range(15))
def test_the_assignment_and_its_margins_against_all_ways(seed: int) -> None:
    """Small lots, every way to put them together tried."""
    rng = np.random.default_rng(seed)
    cards, labels = int(rng.integers(1, 5)), [str(n) for n in range(int(rng.integers(1, 5)))]
    gains = {
        (c, j): float(rng.normal(3, 6))
        for c in range(cards)
        for j in range(len(labels))
        if rng.random() < 0.8
    }
    edges = [Edge(card=c, label=j, gain=gain) for (c, j), gain in gains.items()]
    kept = Edges()
    kept.add(edges)
    found, _ = _settled(kept, cards, labels)
    # The prior is the same for every pair; it follows from how many are left alone.
    many, missing = max(cards, len(labels)), MISSING
    for _ in range(2):
        edges_now = [replace(one, gain=one.gain + _prior(many, missing)) for one in edges]
        made = len(list(assigned(edges_now)))
        missing = min(0.5, max(many - made, 1) / many)
    prior = _prior(many, missing)

    def best(without: tuple[int, int] | None) -> float:
        choices = [[None, *range(len(labels))]] * cards
        totals = []
        for way in itertools.product(*choices):
            used = [j for j in way if j is not None]
            pairs = [(c, j) for c, j in enumerate(way) if j is not None]
            is_way = len(set(used)) == len(used) and without not in pairs
            if is_way and all(pair in gains for pair in pairs):
                totals.append(sum(gains[pair] + prior for pair in pairs))
        return max(totals)

    for card, one in enumerate(found):
        if one.label is not None:
            lost = best(None) - best((card, labels.index(one.label)))
            assert one.margin == pytest.approx(min(lost, MOST_MARGIN), abs=1e-4)


def test_a_match_below_the_margin_does_not_count() -> None:
    one = Match(label="1", evidence=5, margin=LEAST_MARGIN - 0.1, runner_up=None)
    assert not one.is_sure


def test_strangers_of_the_same_pads_are_likelier_than_others() -> None:
    copying = Copying(lot(100))
    near, far = label(31_550), label(9_931_550)
    assert copying.of_stranger(near) > 100 * copying.of_stranger(far)
    # A number of the lot comes into a stranger's box by mistake alone.
    assert copying.of_stranger(lot(1)[0]) < copying.of_stranger(near) / 5


@pytest.mark.parametrize("error", sorted(set(SHARES) - {
    CopyError.CARD_OWN, CopyError.OTHER_PIECE, CopyError.PAD_NEIGHBOR,
    CopyError.SEVERAL_DIGITS}))  # fmt: skip
def test_a_slip_names_its_label(error: CopyError) -> None:
    """In a lot of 30 whose photos are all there, five numbers with a slip, one after the other."""
    labels = lot(30, start=77_305_500)
    rng = random.Random(11)
    tried = 0
    while tried < 5:
        place = rng.randrange(30)
        texts = [
            one.text
            for one in rivals(labels[place], group_sizes=SIZES)
            # A whole number of the same pad may as well be a stranger's, rightly written.
            if one.error is error and not (is_number(one.text) and one.text[:14] == labels[0][:14])
        ]
        if error is CopyError.TRUNCATED:  # what is left must tell one label from another
            texts = [text for text in texts if labels[place].endswith(text) and len(text) > 5]
        if not texts:
            continue
        tried += 1
        boxes = [read(rng.choice(texts) if n == place else labels[n]) for n in range(30)]
        found = match(labels, boxes)[place]
        assert found.is_probable
        assert found.label == labels[place]


def test_candidates_hold_the_label_for_every_copying_error() -> None:
    labels = lot(2000, start=5_204_000)
    candidates = Candidates(labels)
    rng = random.Random(3)
    for place in rng.sample(range(2000), 12):
        own = rivals(labels[place], group_sizes=SIZES)
        for rival in rng.sample(own, 30):
            if rival.error is not CopyError.TRUNCATED and rival.text not in labels:
                assert place in candidates.of(rival.text), (rival, labels[place])

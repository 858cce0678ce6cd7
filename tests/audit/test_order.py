"""Pairs named by the order in which a lot's cards and labels were used up.

The lots are invented: labels and cards with running numbers, one of each taken at a time.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence

import pytest

from pairing.audit.matching.cards_to_labels import Box, match
from pairing.audit.matching.order import LEAST_PAIRS, Order
from tests.audit.making import label


def card(n: int) -> str:
    return label(n, "95909402587")


def labels_of(count: int) -> list[str]:
    return [label(31_400 + n) for n in range(count)]


def read(text: str, own: str, known: str | None = None) -> Box:
    def log_chances(texts: Sequence[str]) -> list[float]:
        return [math.log(0.9999 if one == text else 1e-8) for one in texts]

    return Box(best=text, log_chances=log_chances, own=own, known=known)


def unread(own: str) -> Box:
    return Box(best="", log_chances=lambda texts: [-math.inf] * len(texts), own=own)


def with_the_next_ones(labels: Sequence[str], place: int) -> list[Box]:
    """The card at this place holds the number of the next label."""
    held = {place: labels[place + 1]}
    return [read(held.get(n, one), card(n)) for n, one in enumerate(labels)]


def test_an_order_is_learned_from_the_pairs() -> None:
    labels = labels_of(200)
    cards = [card(n) for n in range(200)]
    order = Order(cards, labels, dict(zip(cards[::2], labels[::2], strict=True)))
    assert order.log_odds(cards[51], labels[51]) == pytest.approx(math.log(200), abs=0.1)
    assert order.log_odds(cards[51], labels[52]) < -math.log(50)
    assert labels[51] in order.near(cards[51])
    assert labels[120] not in order.near(cards[51])


@pytest.mark.parametrize("count", [LEAST_PAIRS, 60, 400])
def test_cards_in_no_order_say_nothing(count: int) -> None:
    """Thirty lots of each size; what chance alone tells is far from what is asked for."""
    labels = labels_of(count)
    numbers = list(range(count))
    for seed in range(30):
        random.Random(seed).shuffle(numbers)
        cards = [card(n) for n in numbers]
        order = Order(cards, labels, dict(zip(cards, labels, strict=True)))
        assert {order.log_odds(one, labels[0]) for one in cards} == {0.0}


@pytest.mark.parametrize("reach", [0, 1, 2])
def test_an_order_that_is_not_kept_strictly_tells_less(reach: int) -> None:
    """Cards taken some places too early or too late."""
    labels = labels_of(200)
    rng = random.Random(8)
    taken = sorted(range(200), key=lambda n: n + rng.uniform(-reach, reach))
    cards = [card(taken.index(n)) for n in range(200)]
    order = Order(cards, labels, dict(zip(cards, labels, strict=True)))
    right = [order.log_odds(*one) for one in zip(cards, labels, strict=True)]
    wrong = [order.log_odds(cards[n], labels[(n + 60) % 200]) for n in range(200)]
    assert sum(right) / 200 > (5, 2, 1.5)[reach]
    assert max(wrong) < 0


def test_few_pairs_tell_no_order() -> None:
    labels = labels_of(60)
    cards = [card(n) for n in range(60)]
    few = dict(list(zip(cards, labels, strict=True))[: LEAST_PAIRS - 1])
    assert Order(cards, labels, few).log_odds(cards[3], labels[3]) == 0
    assert Order(cards, labels, few).near(cards[3]) == set()


def test_of_two_boxes_with_one_number_the_one_out_of_order_is_named() -> None:
    labels = labels_of(60)
    found = match(labels, with_the_next_ones(labels, 20))
    assert found[20].label == labels[20]
    assert found[20].by_order
    assert found[20].is_probable
    assert not found[20].is_sure
    assert found[21].label == labels[21]
    assert not found[21].is_sure
    assert sum(one.is_sure for one in found) == 58


def test_the_cards_own_number_in_its_box_is_named_with_its_label() -> None:
    labels = labels_of(60)
    boxes = [read(card(n) if n == 33 else one, card(n)) for n, one in enumerate(labels)]
    found = match(labels, boxes)[33]
    assert (found.label, found.by_order, found.is_sure) == (labels[33], True, False)


def test_without_order_it_stays_open_which_of_two_boxes_is_wrong() -> None:
    labels = labels_of(60)
    places = list(range(60))
    random.Random(3).shuffle(places)
    boxes = [
        read(one.best, card(place))
        for one, place in zip(with_the_next_ones(labels, 20), places, strict=True)
    ]
    found = match(labels, boxes)
    assert not any(one.by_order for one in found)
    assert not found[20].is_probable
    assert not found[21].is_probable


def test_a_right_card_whose_label_is_missing_is_given_no_neighbors_label() -> None:
    """Its label was not photographed, and the next piece's card was not either."""
    labels = labels_of(100)
    boxes = [read(one, card(n)) for n, one in enumerate(labels) if n != 41]
    found = match([one for one in labels if one != labels[40]], boxes)
    assert found[40].label is None


def test_a_number_from_elsewhere_is_named_with_the_label_that_is_left_where_it_is_due() -> None:
    """The box of card 300 holds the number of a label of another roll, and label 300 is left."""
    labels = labels_of(1000)
    boxes = [read(label(9_000_031) if n == 300 else one, card(n)) for n, one in enumerate(labels)]
    found = match(labels, boxes)[300]
    assert (found.label, found.by_order, found.is_sure) == (labels[300], True, False)


def test_an_unread_box_is_given_no_label_by_order_alone() -> None:
    labels = labels_of(60)
    boxes = [unread(card(n)) if n == 9 else read(one, card(n)) for n, one in enumerate(labels)]
    assert match(labels, boxes)[9].label is None


def test_what_a_list_names_is_left_as_it_is() -> None:
    labels = labels_of(60)
    boxes = with_the_next_ones(labels, 20)
    boxes[20] = read(labels[21], card(20), known=labels[21])
    found = match(labels, boxes)
    assert (found[20].label, found[20].by_order) == (labels[21], False)

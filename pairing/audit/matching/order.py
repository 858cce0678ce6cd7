"""Whether a lot's cards and labels were used up in the same order, and what that says of a pair.

Both come in packs and on rolls with running numbers. Where a desk takes the next of each, the
neighbors of a card, by its own number, went to the neighbors of its label. How strictly that holds
is learned from the lot: from its pairs that are sure by their boxes. It only names a pair, with its
odds; it never counts.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

LEAST_PAIRS = 20
"""Sure pairs that an order is learned from. With n of them a pair out of order is held to be at
most n + 1 times less likely than chance would have it."""

_LEAST_TOLD = 1.0
"""What a sure pair's place must tell on average (log odds): of 20 pairs in no order it tells up to
0.6 by chance alone (tests/audit/test_order.py), and four such places are set against each other."""

_NEIGHBORS = 2
"""Cards on either side that are asked, the nearest ones whose pairs are sure."""
_MOST_LEARNED = 2000
_REACH = 7


class Order:
    """The order of one lot.

    pairs: card's own number to label, those that are sure. A card's place is among all cards of the
    lot; a label's among all labels.
    """

    def __init__(
        self, cards: Iterable[str], labels: Iterable[str], pairs: Mapping[str, str]
    ) -> None:
        self._cards = {one: place for place, one in enumerate(sorted(set(cards)))}
        self._in_order = sorted(set(labels))
        self._labels = {one: place for place, one in enumerate(self._in_order)}
        known = sorted((self._cards[card], self._labels[label]) for card, label in pairs.items())
        self._at = [card for card, _ in known]
        self._known = known
        step = max(1, len(known) // _MOST_LEARNED)
        seen: Counter[int] = Counter()
        by_chance: dict[int, float] = {}
        for card, label in known[::step]:
            expected = self._expected(card)
            seen[_width(label, expected)] += 1
            for width, share in self._by_chance(expected):
                by_chance[width] = by_chance.get(width, 0.0) + share
        self._log_odds = _learned(seen, by_chance)

    @property
    def labels(self) -> Collection[str]:
        """All of the lot's."""
        return self._labels.keys()

    def log_odds(self, card: str, label: str) -> float:
        """Log P(their places | they belong together) / P(their places | by chance); 0.0 where the
        lot tells no order."""
        place = self._cards.get(card)
        if place is None or not self._log_odds:
            return 0.0
        return self._log_odds.get(_width(self._labels[label], self._expected(place)), 0.0)

    def log_odds_of_absent(self, card: str, number: str) -> float:
        """The same for a number that no label of the lot has, at its place among them."""
        place = self._cards.get(card)
        if place is None or not self._log_odds:
            return 0.0
        at = bisect_left(self._in_order, number)
        return self._log_odds.get(_width(at, self._expected(place)), 0.0)

    def near(self, card: str) -> set[str]:
        """Labels that lie about where the card's neighbors have it expected."""
        place = self._cards.get(card)
        if place is None or not self._log_odds:
            return set()
        return {
            label
            for one in self._expected(place)
            for label in self._in_order[max(0, one - _REACH) : max(0, one + _REACH + 1)]
        }

    def _expected(self, card: int) -> list[int]:
        """Where the label is, if each neighbor's is right and none is missing in between."""
        at = bisect_left(self._at, card)
        after = at + (at < len(self._at) and self._at[at] == card)
        near = [
            *self._known[max(0, at - _NEIGHBORS) : at],
            *self._known[after : after + _NEIGHBORS],
        ]
        return [label + card - other for other, label in near]

    def _by_chance(self, expected: Sequence[int]) -> Iterator[tuple[int, float]]:
        """For each width the share of all labels that lie so far from what is expected."""
        total = len(self._in_order)
        within, width = 0, 0
        while within < total and expected:
            now = sum(_covered(expected, (1 << width) - 1, total))
            yield width, (now - within) / total
            within, width = now, width + 1


def _learned(seen: Mapping[int, int], by_chance: Mapping[int, float]) -> dict[int, float]:
    """Log odds by width; nothing where too few pairs show too little order."""
    many = sum(seen.values())
    if many < LEAST_PAIRS:
        return {}
    # One pair more is counted as it were by chance: what never was is not impossible.
    found = {
        width: math.log((seen.get(width, 0) * many / share + 1) / (many + 1))
        for width, share in by_chance.items()
        if share > 0
    }
    told = sum(found.get(width, 0.0) * count for width, count in seen.items()) / many
    return found if told >= _LEAST_TOLD else {}


def _width(label: int, expected: Sequence[int]) -> int:
    """0 where the nearest place expected is the label's own; from then on each is twice as wide."""
    return min((abs(label - one) for one in expected), default=0).bit_length()


def _covered(places: Iterable[int], reach: int, total: int) -> Iterator[int]:
    """How many of `total` places lie within reach of one of these, stretch by stretch."""
    end = 0
    for place in sorted(places):
        first, last = max(place - reach, end), min(place + reach + 1, total)
        if last > first:
            yield last - first
            end = last

"""A second look at the cards that the boxes alone leave open: at what the lot's order says of them.

Where two boxes hold one number, or one holds the card's own, the boxes do not tell whose card it
is. Its neighbors may. Whatever is found here is named with its odds, and never counts.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace

from pairing.audit.matching.assignment import Edge, Edges, Pair, assigned
from pairing.audit.matching.copying import ERROR_RATE, LONE
from pairing.audit.matching.order import LEAST_PAIRS, Order
from pairing.compare import CopyError
from pairing.compare.error_shares import SHARES
from pairing.numbers import is_number

_LOG_WRONG = math.log(ERROR_RATE * SHARES[CopyError.OTHER_PIECE])
"""P(a box holds another piece's number), whichever."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What is kept of a box. own: the card's own number. best: what it likeliest says, "" where
    nothing was read. is_named: a list or a ledger gives the card to a label of the lot."""

    own: str | None
    best: str
    is_named: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """sure: card to the place of its label, where the boxes say enough. held: places of labels
    that cards which a list names, but which are not sure, have. prior: as it was for these."""

    sure: Mapping[int, int]
    held: frozenset[int]
    prior: float


def pairs_by_order(
    labels: Sequence[str], told: Sequence[Told], edges: Edges, settled: Settled
) -> Iterator[Pair]:
    """The best pairs of what is left, by boxes and order together; those of boxes in which nothing
    was read are left out."""
    known = {told[card].own: labels[place] for card, place in settled.sure.items()}
    pairs = {card: label for card, label in known.items() if card}
    lot = frozenset(labels)
    open_cards = {
        card
        for card, one in enumerate(told)
        if card not in settled.sure and one.own and not one.is_named
    }
    taken = {*settled.sure.values(), *settled.held}
    free = {label: place for place, label in enumerate(labels) if place not in taken}
    if not open_cards or not free or len(pairs) < LEAST_PAIRS:
        return
    order = Order((one.own for one in told if one.own), labels, pairs)
    cards = {card for card in open_cards if not _is_due(told[card], lot, order)}
    possible: dict[tuple[int, int], float] = {}
    for edge in (
        *_by_order(cards, told, free, order),
        *_by_box(cards, told, free, edges, len(labels)),
    ):
        pair = edge.card, edge.label
        possible[pair] = max(edge.gain, possible.get(pair, -math.inf))
    gained = []
    for (card, place), gain in possible.items():
        by_place = order.log_odds(told[card].own or "", labels[place])
        gained.append(Edge(card=card, label=place, gain=gain + by_place + settled.prior))
    yield from (pair for pair in assigned(gained) if told[pair.card].best)


def _is_due(one: Told, lot: Collection[str], order: Order) -> bool:
    """Whether it holds a whole number whose label is not here, and which lies where the order has
    its card's label: very likely that is its own."""
    return _is_strangers(one, lot) and order.log_odds_of_absent(one.own or "", one.best) >= 0


def _is_strangers(one: Told, lot: Collection[str]) -> bool:
    return one.best not in lot and one.best != one.own and is_number(one.best)


def _by_order(
    cards: Set[int], told: Sequence[Told], free: Mapping[str, int], order: Order
) -> Iterator[Edge]:
    """Pairs that the order alone speaks for: of boxes that hold the card's own number or that of
    another label, which say the same whosever card it is, or in which nothing was read. One that
    holds a number of no label here may be right, and out of order."""
    lot = order.labels
    for card in cards:
        one, gain = told[card], 0.0
        if _is_strangers(one, lot):
            gain = _LOG_WRONG - order.log_odds_of_absent(one.own or "", one.best)
        elif one.best and one.best != one.own and one.best not in lot:
            continue
        for label in order.near(one.own or ""):
            if label in free:
                yield Edge(card=card, label=free[label], gain=gain)


def _by_box(
    cards: Set[int], told: Sequence[Told], free: Mapping[str, int], edges: Edges, count: int
) -> Iterator[Edge]:
    """Pairs that the boxes speak for, as they did. What repeats the label's number was held against
    any of the lone ones among the lot's `count` labels; here all are asked, one by one."""
    places = set(free.values())
    for edge in edges.of(cards):
        if edge.label in places:
            is_own = free.get(told[edge.card].best) == edge.label
            yield replace(edge, gain=edge.gain + math.log(count / max(1.0, LONE * count)) * is_own)

"""Which card belongs to which label, by maximum likelihood over what was read in each box.

One assignment for the whole lot, with "has no partner" as an answer for either side. It only
puts photos together: whether a piece agrees is decided afterward, from the box's own reading,
as for any other piece. But what the box says cannot both choose the partner and agree with it:
of a card whose box holds another piece's number, the right label does not show that anything is
wrong. A pair agrees only where a list or a ledger names it too.

A match counts from 30 to 1 against every other way to put the lot together, and 20 to 1 from its
own box or from a list or ledger that names the pair; the row says which. A box that holds another
piece's number tells no partner, and two boxes with one number leave the true partner open.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from pairing.audit.matching.assignment import Edge, Edges, Pair, assigned, pairs_made
from pairing.audit.matching.candidates import Candidates
from pairing.audit.matching.copying import ERROR_RATE, LONE, Copying
from pairing.audit.matching.second_look import Settled, Told, pairs_by_order

LEAST_MARGIN = math.log(30)
"""A match counts only where every other way to put the lot together is 30 times less likely."""

LEAST_TO_NAME = math.log(3)
"""From here on a row says with which label a card probably goes and that the two would differ,
with the odds; it never counts. Measured by tests.benchmarks.audit simulated."""

LEAST_EVIDENCE = math.log(20)
"""Also, the box itself, or a list or ledger that names the pair, must point to the label this
clearly: that it is the only one left is not enough."""

KNOWN_PARTNER = math.log(10_000)
"""What an expected list or a ledger adds to the pair that it names. Common practice, no
source: lists are printed by machines, but reels are exchanged."""

MISSING = LONE
"""Share of pieces of which only one photo is there, to begin with; then as it is found."""

_MISREAD = 2
_IN_PAD = 3
"""Last characters in which the numbers of a pad differ."""
_SURE = 0.995
"""Another text is then 200 times less likely, which is more than LEAST_MARGIN asks."""

_ROUNDS = 3
_HIGHEST_PRIOR = math.log(1e7)
"""What `_prior` adds at most, in lots of up to ten million."""
_LEAST_CHANCE = 1e-300


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """What was read in one card's box. best: the likeliest text, "" where nothing was read.
    log_chances: log P(text | picture) for texts. own: the card's own number. known: the
    label that list or ledger give this card to. most_other: no other text has a greater P."""

    best: str
    log_chances: Callable[[Sequence[str]], Sequence[float]]
    own: str | None = None
    known: str | None = None
    most_other: float = 1.0

    @property
    def surely(self) -> str:
        """What it says beyond doubt, or ""."""
        sure = bool(self.best) and math.exp(min(0.0, self.log_chances([self.best])[0])) >= _SURE
        return self.best if sure else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """A card's partner.

    label: None where it has none. evidence: log likelihood ratio of what was read, for this
    label against a stranger's. margin: by how much (log odds) the best way to put the lot
    together without this pair is less likely. runner_up: the card's partner there, None for
    none. by_order: the boxes left it open, and the lot's order speaks for it: it never counts.
    """

    label: str | None
    evidence: float
    margin: float
    runner_up: str | None
    by_order: bool = False

    @property
    def is_sure(self) -> bool:
        """Whether the match counts."""
        is_clear = self.evidence >= LEAST_EVIDENCE and self.margin >= LEAST_MARGIN
        return self.label is not None and is_clear and not self.by_order

    @property
    def is_probable(self) -> bool:
        """Whether it is worth saying, with its odds, where it would differ."""
        least = min(self.evidence, self.margin)
        return self.label is not None and least >= LEAST_TO_NAME


def least_margin_to_agree(strictness: str) -> float:
    """By how much (log odds) every other way to put the lot together must be less likely before
    a pair may agree.

    strictness: the most wrong "agrees" among differing pairs. ERROR_RATE of all pairs differ, so
    a match that is wrong with the chance p brings p / ERROR_RATE of them together wrongly.
    """
    return -math.log(float(strictness) * ERROR_RATE)


_NONE = Match(label=None, evidence=0.0, margin=0.0, runner_up=None)


def match(labels: Sequence[str], boxes: Iterable[Box], *, taken: Iterable[str] = ()) -> list[Match]:
    """A match for each box, in order. Boxes are asked one after the other and not kept.

    labels: canonical numbers of labels without a card, each once.
    taken: numbers of labels that have theirs already (both in one photo); they are no
        partners, but a box may well hold one of them by mistake.
    """
    copying = Copying([*labels, *taken])
    candidates = Candidates(labels)
    edges = Edges()
    told = []
    for card, box in enumerate(boxes):
        edges.add(_edges(card, box, labels, candidates, copying))
        is_named = box.known is not None and candidates.place(box.known) is not None
        told.append(Told(own=box.own, best=box.best, is_named=is_named))
    del candidates, copying  # as large as all that is left to do
    matches, prior = _settled(edges, len(told), labels)
    return _looked_at_again(matches, prior, labels, told, edges)


def _edges(
    card: int, box: Box, labels: Sequence[str], candidates: Candidates, copying: Copying
) -> list[Edge]:
    """The card's likely partners. A box that holds the card's own number names none."""
    likely: list[int] = []
    if box.best and box.best != box.own:
        sure = math.exp(box.log_chances([box.best])[0])
        likely = candidates.of(box.best, is_sure=sure > _SURE)
    known = candidates.place(box.known) if box.known else None
    if known is not None and known not in likely:
        likely = [known, *likely]
    if not likely:
        return []
    texts = [labels[one] for one in likely]
    if not box.best:
        return [Edge(card=card, label=known, gain=KNOWN_PARTNER)] if known is not None else []
    best, *own = (math.exp(min(0.0, log)) for log in box.log_chances([box.best, *texts]))
    stranger = _of_stranger(box, best, dict(zip(texts, own, strict=True)), copying)
    found = []
    for place, text, chance in zip(likely, texts, own, strict=True):
        # The number of another piece of the lot may have come into any card's box, and a slip
        # that leads to it is one way among all of these: it tells no partner that no list names.
        is_elsewhere = text != box.best and box.best in copying.labels and place != known
        known_gain = KNOWN_PARTNER * (place == known)
        most = math.log(max(chance, _LEAST_CHANCE)) - math.log(max(stranger, _LEAST_CHANCE))
        if is_elsewhere and most + known_gain <= -_HIGHEST_PRIOR:
            continue  # whatever else is worked out, no lot makes this pair
        partner = 0.0 if is_elsewhere else best * copying.of_box(box.best, text, card=box.own)
        other = stranger
        if text != box.best:
            partner += chance * (1 - ERROR_RATE)
            other += best * copying.of_same_slip(box.best, text, card=box.own)
        gain = math.log(max(partner, _LEAST_CHANCE)) - math.log(max(other, _LEAST_CHANCE))
        found.append(Edge(card=card, label=place, gain=gain + known_gain))
    return found


def _of_stranger(box: Box, chance: float, others: Mapping[str, float], copying: Copying) -> float:
    """The same where the card's label is not in the lot. chance: of the likeliest text; others: of
    the labels that it may be meant for."""
    besides = {one: share for one, share in others.items() if one != box.best}
    found = chance * copying.of_stranger(box.best)
    found += sum(share * copying.of_stranger(one) for one, share in besides.items())
    # What is left of a clear reading cannot weigh against what its text says of a stranger.
    # Of the pads of the lot that the text may be a number of, with two characters misread.
    pads = (one for one in others if _may_be_misread(one[:-_IN_PAD], box.best[:-_IN_PAD]))
    density = max(map(copying.density_near, (box.best, *pads)))
    is_clear = min(1 - chance, box.most_other) * density < found / 100
    near = {} if is_clear else copying.strangers_near(box.best)
    if near:
        chances = (math.exp(min(0.0, log)) for log in box.log_chances([*near]))
        found += (1 - ERROR_RATE) * sum(a * b for a, b in zip(near.values(), chances, strict=True))
    # Whatever else it may say, with two digits misread: one text in ten near it is a number (the
    # check digit), and one digit in seven can change without leaving the pad (the last 3 of 22).
    rest = max(0.0, 1 - chance - sum(besides.values()))
    return found + rest * rest * density / 70


def _may_be_misread(text: str, best: str) -> bool:
    """Whether the two differ in two characters at most, or but for one place where one of them has
    a character or two more."""
    if len(text) == len(best):
        return sum(a != b for a, b in zip(text, best, strict=True)) <= _MISREAD
    short, long = sorted((text, best), key=len)
    more = len(long) - len(short)
    is_one_place = (long[:at] + long[at + more :] == short for at in range(len(short) + 1))
    return more <= _MISREAD and any(is_one_place)


def _looked_at_again(
    matches: list[Match], prior: float, labels: Sequence[str], told: Sequence[Told], edges: Edges
) -> list[Match]:
    """With pairs that the lot's order names, where the boxes did not tell."""
    places = {label: place for place, label in enumerate(labels)}
    sure = {
        card: places[one.label] for card, one in enumerate(matches) if one.is_sure and one.label
    }
    held = (one.label for one, box in zip(matches, told, strict=True) if box.is_named and one.label)
    settled = Settled(sure=sure, held=frozenset(map(places.__getitem__, held)), prior=prior)
    named = {}
    for pair in pairs_by_order(labels, told, edges, settled):
        one = replace(_match_of(pair, prior, labels), by_order=True)
        if one.is_probable and not matches[pair.card].is_probable:
            named[pair.card] = one
    claimed = {one.label for one in named.values()}
    return [
        named.get(card) or (_NONE if one.label in claimed else one)
        for card, one in enumerate(matches)
    ]


def _settled(edges: Edges, cards: int, labels: Sequence[str]) -> tuple[list[Match], float]:
    """The assignment, the share of lone photos found along with it; and the prior that follows."""
    many = max(cards, len(labels), 1)
    missing = MISSING
    for _ in range(_ROUNDS - 1):
        alone = many - pairs_made(edges.above(_prior(many, missing)))
        missing = min(0.5, max(alone, 1) / many)
    matches = [_NONE] * cards
    prior = _prior(many, missing)
    for pair in assigned(edges.above(prior)):
        matches[pair.card] = _match_of(pair, prior, labels)
    return matches, prior


def _match_of(pair: Pair, prior: float, labels: Sequence[str]) -> Match:
    return Match(
        label=labels[pair.label],
        evidence=pair.gain - prior,
        margin=pair.margin,
        runner_up=None if pair.runner_up is None else labels[pair.runner_up],
    )


def _prior(many: int, missing: float) -> float:
    """All ways to pair k of n with n are held equally likely for each k: one pair more is one
    among the (n m)^2 that are left to choose from, of n that came by so far."""
    return -math.log(many * missing * missing)

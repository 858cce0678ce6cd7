"""Which characters of a blind reading a person is asked for, and what the answers settle.

The label has no part in this. Where a place may hold one character or another, that place is
asked for by itself. Where it is in doubt how many characters there are, the stretch that they are
in is asked for as one, answered with all that is seen in it.

Of equal neighbors the whole run is asked for, of what may have been missed both neighbors.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from pairing.judge.box.evidence import Evidence, Thresholds
from pairing.judge.box.rivals import DIGITS, LETTERS, dropped, extra, substituted

MOST_ASKED = 4
"""More doubtful characters than this are not asked for alone: the number is keyed, blind."""

_FARTHEST = 9.2
"""A text that another beats by more than this (10,000 to 1) is not counted in."""
_MOST_CHOICES = 10
"""Nor is one that ten others in its place beat; leaving it out makes the rest less certain."""
_REST = 2.0
"""One more character is asked for where the rest is less certain than this, as log odds: to key
it is less work than to key them all in vain. Measured on 842 held-out lines: real hands take
0.39 keys a line, without it 0.43; faces the same."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Places of the best text that one question is about, 1-based, both included. is_open: how
    many characters are there is in doubt too, so that the answer may have any number."""

    first: int
    last: int
    is_open: bool = False

    def __len__(self) -> int:
        return self.last - self.first + 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """A reading completed by a person. positions: 1-based places in `text` of what the person
    read. rest: P(all the characters that were not asked for)."""

    text: str
    positions: tuple[int, ...]
    rest: float


def places(asked: Iterable[Stretch]) -> tuple[int, ...]:
    """All the places that are asked for."""
    return tuple(at for one in asked for at in range(one.first, one.last + 1))


def doubts(
    evidence: Evidence, thresholds: Thresholds, spoiled: Collection[int] = ()
) -> tuple[Stretch, ...] | None:
    """What to ask for, so that the rest is certain enough, from the left; None where nothing
    was read, or where more than MOST_ASKED characters would have to be asked for.
    spoiled: places that are asked for however surely they were read."""
    best = evidence.best
    if not best:
        return None
    asked = _open(evidence, thresholds)
    asked += [Stretch(first=at, last=at) for at in sorted(set(spoiled) - set(places(asked)))]
    held = set(places(asked))
    nearest = _nearest(evidence)
    order = [at for at in sorted(nearest, key=lambda at: nearest[at]) if at not in held]
    asked += [Stretch(first=at, last=at) for at in order if nearest[at] < thresholds.asks]
    held |= set(places(asked))
    order = [at for at in order if at not in held]
    enough: tuple[Stretch, ...] | None = None
    while sum(map(len, asked)) <= MOST_ASKED:
        odds = log_odds(_log_rest(evidence, asked)) if asked else -math.inf
        if odds >= thresholds.agrees:
            enough = enough or _from_left(asked)
            if odds >= _REST:
                return _from_left(asked)
        if not order:
            break
        asked.append(Stretch(first=order[0], last=order[0]))
        del order[0]
    return enough


def _from_left(asked: Sequence[Stretch]) -> tuple[Stretch, ...]:
    return tuple(sorted(asked, key=lambda one: one.first))


def answered(
    evidence: Evidence, answers: Mapping[Stretch, str], thresholds: Thresholds
) -> Answered | None:
    """The best text with what a person read in its place; None where the rest is not certain
    enough."""
    if not answers:
        return None
    asked = _from_left(list(answers))
    text = "".join(_put(evidence.best, asked, [answers[one] for one in asked]))
    log_rest = _log_rest(evidence, asked, [answers[one] for one in asked])
    if log_odds(log_rest) < thresholds.agrees:
        return None
    return Answered(
        text=text,
        positions=tuple(_moved(asked, answers)),
        rest=math.exp(min(0.0, log_rest)),
    )


def log_odds(log_chance: float) -> float:
    """log P less log (1 - P): by how much a text beats all others together, at most 27."""
    return log_chance - math.log(max(-math.expm1(min(0.0, log_chance)), 1e-12))


def _moved(asked: Sequence[Stretch], answers: Mapping[Stretch, str]) -> Iterator[int]:
    """Where in the completed text the answers are."""
    moved = 0
    for one in asked:
        yield from range(one.first + moved, one.first + moved + len(answers[one]))
        moved += len(answers[one]) - len(one)


def _open(evidence: Evidence, thresholds: Thresholds) -> list[Stretch]:
    """The stretches in which a character may be missing or one too many.

    Of two equal neighbors no one can say which is the doubtful one: their whole run is asked
    for. What may have been missed is looked for with both of its neighbors."""
    best = evidence.best
    without, more = list(dropped(best)), list(extra(best))
    top, *scores = evidence.log_likelihoods([best, *without, *more])
    near = [top - score < thresholds.asks for score in scores]
    held: set[int] = set()
    for at, is_near in enumerate(near[: len(without)]):
        if is_near:
            held |= _run(best, at)
    for index, is_near in enumerate(near[len(without) :]):
        gap, new = divmod(index, len(DIGITS))
        if not is_near:
            continue
        for at in (gap - 1, gap):
            if 0 <= at < len(best):
                held |= _run(best, at) if best[at] == DIGITS[new] else {at}
    stretches: list[Stretch] = []
    for at in sorted(held):
        if stretches and stretches[-1].last == at:
            stretches[-1] = Stretch(first=stretches[-1].first, last=at + 1, is_open=True)
        else:
            stretches.append(Stretch(first=at + 1, last=at + 1, is_open=True))
    return stretches


def _run(text: str, at: int) -> set[int]:
    """The places (from 0) of the run of equal characters that one at `at` belongs to."""
    first = last = at
    while first and text[first - 1] == text[at]:
        first -= 1
    while last + 1 < len(text) and text[last + 1] == text[at]:
        last += 1
    return set(range(first, last + 1))


def _nearest(evidence: Evidence) -> dict[int, float]:
    """For each place, by how much the best text beats the nearest other character there."""
    best = evidence.best
    swaps = [
        (at, best[: at - 1] + new + best[at:])
        for at, old in enumerate(best, 1)
        for new in _alphabet(old)
        if new != old
    ]
    top, *scores = evidence.log_likelihoods([best, *(text for _, text in swaps)])
    found: dict[int, float] = {}
    for (at, _), score in zip(swaps, scores, strict=True):
        found[at] = min(found.get(at, math.inf), top - score)
    return found


def _alphabet(char: str) -> str:
    return DIGITS if char in DIGITS else LETTERS


def _log_rest(
    evidence: Evidence, asked: Collection[Stretch], given: Sequence[str] | None = None
) -> float:
    """log P of the best text's other characters, whatever is in the places asked for: the
    likely things, and what was given, which is less than everything."""
    best = evidence.best
    choices = []
    for index, one in enumerate(asked):
        texts = _may_stand(best[one.first - 1 : one.last], is_open=one.is_open)
        whole = ["".join(_put(best, [one], [text])) for text in texts]
        scores = evidence.log_likelihoods(whole)
        most = max(scores)
        ranked = sorted(zip(scores, texts, strict=True), reverse=True)[:_MOST_CHOICES]
        near = {text for score, text in ranked if most - score < _FARTHEST}
        choices.append(sorted(near | ({given[index]} if given else set())))
    every = {"".join(_put(best, asked, one)) for one in product(*choices)}
    return _log_sum(evidence.log_likelihoods(sorted(every)))


def _may_stand(text: str, *, is_open: bool) -> list[str]:
    if not is_open:
        return list(_alphabet(text))
    return list(dict.fromkeys((text, *substituted(text), *dropped(text), *extra(text))))


def _put(text: str, places: Collection[Stretch], new: Sequence[str]) -> Iterator[str]:
    """`text` in pieces, with something new in those places (from the left or not)."""
    at = 0
    for one, put in sorted(zip(places, new, strict=True), key=lambda pair: pair[0].first):
        yield text[at : one.first - 1]
        yield put
        at = one.last
    yield text[at:]


def _log_sum(logs: Sequence[float]) -> float:
    most = max(logs)
    if most == -math.inf:
        return most
    return most + math.log(math.fsum(math.exp(one - most) for one in logs))

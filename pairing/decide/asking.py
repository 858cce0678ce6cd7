"""Which digits of a blind reading a person is asked for, and what the answers settle.

The label has no part in this.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from pairing.decide.evidence import Evidence, Thresholds
from pairing.decide.rivals import DIGITS, dropped, extra

MOST_ASKED = 4
"""More doubtful digits than this are not asked one by one: the number is keyed, blind."""

_FARTHEST = 9.2
"""A digit that another beats by more than this (10,000 to 1) is not counted in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """A reading completed by a person. rest: P(all the digits that were not asked for)."""

    text: str
    positions: tuple[int, ...]
    rest: float


def doubts(evidence: Evidence, thresholds: Thresholds) -> tuple[int, ...] | None:
    """1-based positions of the best text to ask for, so that the rest stands by itself; None
    where the number of digits is in doubt, where nothing was read, or where more than
    MOST_ASKED would have to be asked for."""
    best = evidence.best
    if not best:
        return None
    nearest = _nearest(evidence)
    lengths = list(dict.fromkeys((*dropped(best), *extra(best))))
    top, *rest = evidence.log_likelihoods([best, *lengths])
    if any(top - score < thresholds.asks for score in rest):
        return None
    order = sorted(nearest, key=lambda at: nearest[at])
    asked = [at for at in order if nearest[at] < thresholds.asks]
    while len(asked) <= MOST_ASKED:
        if asked and log_odds(_log_rest(evidence, asked)) >= thresholds.agrees:
            return tuple(sorted(asked))
        if len(asked) == len(order):
            return None
        asked.append(order[len(asked)])
    return None


def answered(
    evidence: Evidence, answers: Mapping[int, str], thresholds: Thresholds
) -> Answered | None:
    """The best text with a person's digits in their places (1-based); None where the rest
    does not stand by itself."""
    text = "".join(answers.get(at, char) for at, char in enumerate(evidence.best, 1))
    log_rest = _log_rest(evidence, tuple(answers), text)
    if not answers or log_odds(log_rest) < thresholds.agrees:
        return None
    return Answered(text=text, positions=tuple(sorted(answers)), rest=math.exp(min(0.0, log_rest)))


def log_odds(log_chance: float) -> float:
    """log P less log (1 - P): by how much a text beats all others together, at most 27."""
    return log_chance - math.log(max(-math.expm1(min(0.0, log_chance)), 1e-12))


def _nearest(evidence: Evidence) -> dict[int, float]:
    """For each position of a digit, by how much the best text beats the nearest other digit."""
    best = evidence.best
    swaps = [(at, best[: at - 1] + new + best[at:]) for at in _digit_places(best) for new in DIGITS]
    swaps = [(at, text) for at, text in swaps if text != best]
    top, *scores = evidence.log_likelihoods([best, *(text for _, text in swaps)])
    found: dict[int, float] = {}
    for (at, _), score in zip(swaps, scores, strict=True):
        found[at] = min(found.get(at, math.inf), top - score)
    return found


def _digit_places(text: str) -> tuple[int, ...]:
    return tuple(at for at, char in enumerate(text, 1) if char in DIGITS)


def _log_rest(evidence: Evidence, asked: Collection[int], given: str = "") -> float:
    """log P of the best text's other digits, whatever stands in the places asked for."""
    best = evidence.best
    choices = []
    for at in asked:
        texts = [best[: at - 1] + new + best[at:] for new in DIGITS]
        scores = evidence.log_likelihoods(texts)
        most = max(scores)
        near = [new for new, score in zip(DIGITS, scores, strict=True) if most - score < _FARTHEST]
        choices.append(sorted({*near, *given[at - 1 : at]}))
    texts = ["".join(_put(best, asked, digits)) for digits in product(*choices)]
    return _log_sum(evidence.log_likelihoods(texts))


def _put(text: str, places: Collection[int], digits: Sequence[str]) -> list[str]:
    new = list(text)
    for at, digit in zip(places, digits, strict=True):
        new[at - 1] = digit
    return new


def _log_sum(logs: Sequence[float]) -> float:
    most = max(logs)
    if most == -math.inf:
        return most
    return most + math.log(math.fsum(math.exp(one - most) for one in logs))

"""The rule: agrees, differs or unread, and which digits to ask a person for."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Protocol

from pairing.compare import CopyError
from pairing.decide.rivals import DIGITS, Rival, dropped, extra, rivals
from pairing.model import Verdict

MOST_ASKED = 4
"""More doubtful digits than this are not asked one by one: the number is keyed, blind."""

STRICTNESS = ("1e-3", "1e-4", "1e-5")
"""Stated rates of wrong "agrees" among differing pairs that a calibration provides for."""


class Evidence(Protocol):
    """A blind reading of one line of writing."""

    @property
    def best(self) -> str:
        """The likeliest text; "" where nothing was read."""
        ...

    def log_likelihoods(self, texts: Sequence[str]) -> Sequence[float]:
        """The natural logarithm of P(text | picture) for each text; the probabilities of all
        texts there are add up to 1."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Thresholds:
    """In natural-logarithm units, from the calibration stored with the model.

    agrees: by how much the label's number must beat all other texts taken together, and so
        every rival.
    differs: by how much another text must beat the label's number ...
    differs_sure: ... and what share of all probability it must have.
    asks: a digit is in doubt where another beats it, or comes closer than this.
    """

    agrees: float
    differs: float
    differs_sure: float
    asks: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """The verdict on one line against one label.

    verdict: AGREES, DIFFERS or UNREAD.
    best: the text that was read, blind.
    margin: log P(label) less log P(any other text); the agreement's strength.
    rival, error: the strongest copying error of the label's number, "" and None where the
        verdict is AGREES (nothing comes near).
    sure: P(best), 0..1.
    doubtful: 1-based positions in `best` to ask alone; () where none or too many.
    key_all: the whole number must be keyed.
    other: the best text is this number of another piece, or "".
    """

    verdict: Verdict
    best: str
    margin: float
    rival: str
    error: CopyError | None
    sure: float
    doubtful: tuple[int, ...]
    key_all: bool
    other: str


def decide(  # noqa: PLR0913 - a reading, a number and what is known around it
    evidence: Evidence,
    label: str,
    *,
    thresholds: Thresholds,
    group_sizes: Sequence[int],
    card: str | None = None,
    others: Collection[str] = (),
) -> Decision:
    """Hold the reading against the label's number.

    AGREES only where the free best is the label's number and beats all other texts together,
    hence every copying error, by the threshold. DIFFERS only where another text
    beats it by its own threshold. Else UNREAD.
    """
    best = evidence.best
    own, free = evidence.log_likelihoods([label, best])
    margin = log_odds(own)
    verdict, rival, error = Verdict.UNREAD, "", None
    if best == label and margin >= thresholds.agrees:
        verdict = Verdict.AGREES
    else:
        against = rivals(label, group_sizes=group_sizes, card=card, others=others)
        rival, error = _strongest(evidence, against)
        if best not in (label, "") and _is_other(own, free, thresholds):
            verdict = Verdict.DIFFERS
    doubtful: tuple[int, ...] | None = ()
    if verdict is Verdict.UNREAD:
        doubtful = doubts(evidence, thresholds.asks)
    return Decision(
        verdict=verdict,
        best=best,
        margin=margin,
        rival=rival,
        error=error,
        sure=math.exp(min(0.0, free)),
        doubtful=doubtful or (),
        key_all=verdict is Verdict.UNREAD and not doubtful,
        other=best if best != label and (best in others or best == card) else "",
    )


def doubts(evidence: Evidence, asks: float) -> tuple[int, ...] | None:
    """1-based positions of the best text that are in doubt; None where the number of digits
    itself is in doubt, where nothing was read, or where more than MOST_ASKED are in doubt.
    The label has no part in this."""
    best = evidence.best
    if not best:
        return None
    swaps = [(i, best[:i] + new + best[i + 1 :]) for i in range(len(best)) for new in DIGITS]
    swaps = [(i, text) for i, text in swaps if text != best and best[i] in DIGITS]
    lengths = list(dict.fromkeys((*dropped(best), *extra(best))))
    scores = evidence.log_likelihoods([best, *(text for _, text in swaps), *lengths])
    top, rest = scores[0], scores[1:]
    if any(top - score < asks for score in rest[len(swaps) :]):
        return None
    places = {i + 1 for (i, _), score in zip(swaps, rest, strict=False) if top - score < asks}
    return tuple(sorted(places)) if len(places) <= MOST_ASKED else None


def log_odds(log_chance: float) -> float:
    """log P less log (1 - P): by how much a text beats all others together, at most 27."""
    return log_chance - math.log(max(-math.expm1(min(0.0, log_chance)), 1e-12))


def _strongest(evidence: Evidence, against: Sequence[Rival]) -> tuple[str, CopyError | None]:
    scores = evidence.log_likelihoods([rival.text for rival in against])
    index = max(range(len(scores)), key=scores.__getitem__, default=None)
    return ("", None) if index is None else (against[index].text, against[index].error)


def _is_other(own: float, free: float, thresholds: Thresholds) -> bool:
    return free - own >= thresholds.differs and free >= math.log(thresholds.differs_sure)

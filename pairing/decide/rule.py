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

    agrees: by how much the label's number must beat every rival.
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
    margin: log P(label) less log P(strongest rival); the agreement's strength.
    rival, error: that rival and the copying error that makes it.
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

    AGREES only where the free best is the label's number and beats every rival, and all
    texts not looked at taken together, by the threshold. DIFFERS only where another text
    beats it by its own threshold. Else UNREAD.
    """
    best = evidence.best
    against = rivals(label, group_sizes=group_sizes, card=card, others=others)
    texts = [label, best, *(rival.text for rival in against)]
    scores = list(evidence.log_likelihoods(texts))
    own, free = scores[0], scores[1]
    margin, rival, error = _strongest(own, scores[2:], against)
    if best != label and own - free < margin:
        margin, rival, error = own - free, best, error if rival == best else None
    verdict = Verdict.UNREAD
    if best == label and margin >= thresholds.agrees:
        verdict = Verdict.AGREES
    elif best not in (label, "") and _is_other(own, free, thresholds):
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


def _strongest(
    own: float, scores: Sequence[float], against: Sequence[Rival]
) -> tuple[float, str, CopyError | None]:
    """The margin over the strongest rival, or over everything not looked at if that is more."""
    best = max(range(len(scores)), key=scores.__getitem__, default=None)
    rest = _log_rest([own, *scores])
    if best is None or rest > scores[best]:
        return own - rest, "", None
    rival = against[best]
    return own - scores[best], rival.text, rival.error


def _log_rest(scores: Sequence[float]) -> float:
    """The logarithm of the probability left for all other texts together."""
    left = 1.0 - sum(math.exp(min(0.0, score)) for score in scores)
    return math.log(max(left, 1e-12))


def _is_other(own: float, free: float, thresholds: Thresholds) -> bool:
    return free - own >= thresholds.differs and free >= math.log(thresholds.differs_sure)

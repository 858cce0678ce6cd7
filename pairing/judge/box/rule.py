"""The rule: agrees, differs or unread, and which digits to ask a person for.

"Differs" by handwriting asks that the whole string be read surely, or that it have half of all
probability and beat the label's number by a margin from the calibration. A margin alone will not
do: on held-out lines 1 to 3 % of true pairs were misread with e^12 to one against the label's
number. Each of the two may call 0.25 % of true pairs different (`training/calibration.py`).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from pairing.compare import CopyError
from pairing.judge.box.asked_characters import Stretch, doubts, log_odds
from pairing.judge.box.evidence import Evidence, Thresholds
from pairing.judge.box.rivals import Rival, rivals
from pairing.model import Verdict

__all__ = ["STRICTNESS", "Decision", "decide", "log_odds"]
"""Names that other rooms use."""

STRICTNESS = ("1e-3", "1e-4", "1e-5")
"""Stated rates of wrong "agrees" among differing pairs that a calibration provides for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """The verdict on one line against one label.

    verdict: AGREES, DIFFERS or UNREAD.
    best: the text that was read, blind.
    margin: log P(label) less log P(any other text); the agreement's strength.
    rival, error: the strongest copying error of the label's number, "" and None unless the
        verdict is DIFFERS.
    sure: P(best), 0..1.
    doubtful: what of `best` to ask for alone; () where nothing or too much. Where it differs
        all the same, what in `best` may be wrong.
    key_all: the whole number must be keyed.
    other: the best text is this number of another piece, or "".
    spoiled: as in `Seen`.
    """

    verdict: Verdict
    best: str
    margin: float
    rival: str
    error: CopyError | None
    sure: float
    doubtful: tuple[Stretch, ...]
    key_all: bool
    other: str
    spoiled: tuple[int, ...] = ()


def decide(  # noqa: PLR0913 - a reading, a number and what is known around it
    evidence: Evidence,
    label: str,
    *,
    thresholds: Thresholds,
    group_sizes: Sequence[int],
    card: str | None = None,
    others: Collection[str] = (),
    spoiled: Sequence[int] = (),
    is_by_hand: bool = False,
) -> Decision:
    """Hold the reading against the label's number.

    AGREES only where the free best is the label's number and beats all other texts together,
    and so every copying error, by the threshold. DIFFERS only where another text
    beats it by its own threshold, by hand a greater one where one digit is all the difference.
    Else UNREAD. A spoiled character is neither the label's nor another.
    """
    best = evidence.best
    own, free = evidence.log_likelihoods([label, best])
    margin = log_odds(own)
    verdict, rival, error = Verdict.UNREAD, "", None
    if best == label and margin >= thresholds.agrees and not spoiled:
        verdict = Verdict.AGREES
    elif (
        best not in (label, "")
        and _is_other(own, free, thresholds)
        and (not spoiled or _differ_beside(best, label, spoiled))
        and not (is_by_hand and free - own < differ_alike(best, label) * thresholds.differs_one)
    ):
        verdict = Verdict.DIFFERS
        # Of a whole batch's numbers only the one that was read can be the strongest.
        read = (best,) if best in others else ()
        against = rivals(label, group_sizes=group_sizes, card=card, others=read)
        rival, error = _strongest(evidence, against)
    doubtful: tuple[Stretch, ...] | None = ()
    is_unsure = bool(spoiled) or free < math.log(thresholds.differs_sure)
    if verdict is Verdict.UNREAD or (verdict is Verdict.DIFFERS and is_unsure):
        doubtful = doubts(evidence, thresholds, spoiled)
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
        spoiled=tuple(spoiled),
    )


def _differ_beside(best: str, label: str, spoiled: Collection[int]) -> bool:
    """Whether another character than the spoiled ones is not the label's."""
    pairs = enumerate(zip(best, label, strict=False), 1)
    return len(best) == len(label) and any(a != b and at not in spoiled for at, (a, b) in pairs)


def differ_alike(text: str, label: str) -> int:
    """How many characters differ, where the label has the same one in all these places: a hand's
    own shape of a digit is misread each time that it is written. Else 0."""
    if len(text) != len(label):
        return 0
    off = [b for a, b in zip(text, label, strict=True) if a != b]
    return len(off) if len(set(off)) == 1 else 0


def _strongest(evidence: Evidence, against: Sequence[Rival]) -> tuple[str, CopyError | None]:
    # No text is likelier than the best one; to score hundreds is most of the cost.
    if read := next((rival for rival in against if rival.text == evidence.best), None):
        return read.text, read.error
    scores = evidence.log_likelihoods([rival.text for rival in against])
    index = max(range(len(scores)), key=scores.__getitem__, default=None)
    return ("", None) if index is None else (against[index].text, against[index].error)


def _is_other(own: float, free: float, thresholds: Thresholds) -> bool:
    beats = free - own
    if beats >= thresholds.differs_far and free >= math.log(0.5):
        return True
    return beats >= thresholds.differs and free >= math.log(thresholds.differs_sure)

"""Whether a drawn sample shows what it was drawn to show."""

from __future__ import annotations

from dataclasses import dataclass

from pairing.audit.statistics.draws import Drawn
from pairing.audit.statistics.sample_counts import SampleCount, is_shown
from pairing.audit.statistics.sampling import sample_size
from pairing.audit.statistics.strata import stratified_size
from pairing.errors import NotCalculable


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What was to be shown, and what came of it.

    share, confidence: at most this share of bad pairs, with this confidence. allowed: bad pieces
    that the sample may hold. bad: pieces of it that differ or were not read, unread: the latter.
    is_reached: the bound at that confidence is no higher than the share. is_reachable: it would
    be, if all unread ones were looked at and good. needed: how many pieces a new sample must have
    to show it with as many bad ones; None where no sample can, and of a plan in two stages.
    is_by_value: share and counts are of the lot's value, by points. stages: of the plan; second:
    pieces of its second stage, where this one decides and was not photographed yet, else 0.
    expected: the share that was expected when it was planned, None where none was.
    """

    share: float
    confidence: float
    allowed: int
    checked: int
    bad: int
    unread: int
    is_reached: bool
    is_reachable: bool
    needed: int | None
    is_by_value: bool = False
    stages: int = 1
    second: int = 0
    expected: float | None = None


def aim_of(drawn: Drawn, found: SampleCount) -> Aim:
    """The aim of a drawn sample, and whether what was found of it reaches it."""
    return Aim(
        share=float(drawn.share),
        confidence=float(drawn.confidence),
        allowed=drawn.allowed,
        checked=found.checked,
        bad=found.bad,
        unread=found.bad - found.differs,
        is_reached=is_shown(drawn, found, found.bad),
        is_reachable=is_shown(drawn, found, found.differs),
        needed=_needed(drawn, found.bad),
        is_by_value=drawn.method == "value",
        stages=len(drawn.stages),
        second=len(drawn.second) if found.is_open else 0,
        expected=float(drawn.expected) if drawn.expected else None,
    )


def _needed(drawn: Drawn, bad: int) -> int | None:
    share, confidence = drawn.share, drawn.confidence
    if drawn.second:
        return None
    try:
        if drawn.strata:
            sizes = {one.name: one.lot for one in drawn.strata}
            limits = {"share": float(share), "confidence": float(confidence)}
            return sum(stratified_size(sizes, **limits, allowed=bad).values())
        lot = None if drawn.method == "value" else drawn.lot
        return sample_size(share=share, confidence=confidence, lot=lot, allowed=bad)
    except NotCalculable:
        return None

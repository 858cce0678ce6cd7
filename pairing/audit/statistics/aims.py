"""Whether a drawn sample shows what it was drawn to show."""

from __future__ import annotations

from dataclasses import dataclass

from pairing.audit.statistics.bounds import bounds
from pairing.audit.statistics.draws import Drawn
from pairing.audit.statistics.sampling import sample_size
from pairing.errors import NotCalculable


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What was to be shown, and what came of it.

    share, confidence: at most this share of bad pairs, with this confidence. allowed: bad pieces
    that the sample may hold. bad: pieces of it that differ or were not read, unread: the latter.
    is_reached: the bound at that confidence is no higher than the share. is_reachable: it would
    be, if all unread ones were looked at and good. needed: how many pieces a new sample must have
    to show it with as many bad ones; None where no sample can.
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


def aim_of(drawn: Drawn, *, differs: int, agrees: int) -> Aim:
    """The aim of a drawn sample.

    differs, agrees: pieces of the sample with that verdict; all others count as unread.
    """
    share, confidence = float(drawn.share), float(drawn.confidence)
    bad = drawn.size - agrees

    def reached(count: int) -> bool:
        found = bounds(drawn.size, count, confidence=confidence, lot=drawn.lot)
        return found.upper <= share

    try:
        needed = sample_size(
            share=drawn.share, confidence=drawn.confidence, lot=drawn.lot, allowed=bad
        )
    except NotCalculable:
        needed = None
    return Aim(
        share=share,
        confidence=confidence,
        allowed=drawn.allowed,
        checked=drawn.size,
        bad=bad,
        unread=bad - differs,
        is_reached=reached(bad),
        is_reachable=reached(differs),
        needed=needed,
    )

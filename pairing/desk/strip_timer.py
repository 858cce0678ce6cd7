"""Whether the scan of a strip came sooner than a piece can be turned over."""

from __future__ import annotations

from collections.abc import Callable

TURN_OVER_S = 1.5
"""Nobody announces a strip, turns the piece over and scans the strip in less time than this.
Predetermined motion times (MTM-1: turn 180 degrees 0.5 s, move the scanner 0.5 s, regrasp 0.2 s,
pull the trigger 0.4 s; from memory) add up to 1.6 s. Not measured at a counter."""


class StripTimer:
    """Times the scan of a strip from the moment it was announced. is_live: somebody sees each
    answer before the next entry comes; otherwise nothing is too soon."""

    def __init__(self, ticks: Callable[[], float], *, is_live: bool) -> None:
        self._ticks = ticks
        self._is_live = is_live
        self._started_s = 0.0

    def start(self) -> None:
        """The strip was announced now."""
        self._started_s = self._ticks()

    def is_too_soon(self) -> bool:
        """Whether a scan now is too soon to be the strip's; the next one is timed from now."""
        now = self._ticks()
        if not self._is_live or now - self._started_s >= TURN_OVER_S:
            return False
        self._started_s = now
        return True

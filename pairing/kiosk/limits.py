"""How much one client may ask for: a bucket that fills steadily and is emptied by asking."""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable

_MOST_CLIENTS = 4_096
"""Clients remembered; the one that was quiet longest is forgotten, so memory stays flat."""


class Buckets:
    """One bucket a client. per_s: how fast it fills; burst: how much it holds.

    clock: seconds that never go back.
    """

    def __init__(
        self, *, per_s: float, burst: float, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._per_s = per_s
        self._burst = burst
        self._clock = clock
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def take(self, client: str, amount: float = 1.0) -> bool:
        """Take from the client's bucket; False where there is not enough in it."""
        left = self._now_in(client)
        is_enough = left >= amount
        self._left[client] = (left - amount if is_enough else left, self._clock())
        self._left.move_to_end(client)
        if len(self._left) > _MOST_CLIENTS:
            self._left.popitem(last=False)
        return is_enough

    def has(self, client: str, amount: float = 1.0) -> bool:
        """Whether there is enough in the client's bucket; takes nothing."""
        return self._now_in(client) >= amount

    def wait_s(self, client: str, amount: float = 1.0) -> float:
        """Seconds until there is enough."""
        return max(0.0, (amount - self._now_in(client)) / self._per_s)

    def _now_in(self, client: str) -> float:
        left, at = self._left.get(client, (self._burst, self._clock()))
        return min(self._burst, left + (self._clock() - at) * self._per_s)

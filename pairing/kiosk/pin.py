"""The operator's PIN at the door: who gave it, and who gave wrong ones too often.

Whether a PIN is the right one: `secret.is_right`, asked by `operators.open_day`.
"""

from __future__ import annotations

import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable

from pairing.kiosk.limits import Buckets
from pairing.kiosk.refusals import too_many

PASS_S = 900.0
"""A pass that was not used for this long has ended. Common practice, no source."""

_MOST_BROWSERS = 256
_MOST_PASSES = 16
_TRIES_PER_S, _TRIES = 1 / 20, 5.0


class Passes:
    """Who has given the PIN. Nothing of it outlives the process."""

    def __init__(self, ticks: Callable[[], float] = time.monotonic) -> None:
        self._ticks = ticks
        self._used: OrderedDict[str, float] = OrderedDict()
        self._turn = threading.Lock()

    def new(self) -> str:
        """A new pass; the one used longest ago goes where there are too many."""
        given = secrets.token_urlsafe(24)
        with self._turn:
            self._used[given] = self._ticks()
            if len(self._used) > _MOST_PASSES:
                self._used.popitem(last=False)
        return given

    def is_good(self, given: str, *, is_used: bool = True) -> bool:
        """Whether the pass is one of these; if it `is_used` it then lives on."""
        with self._turn:
            used = self._used.get(given)
            if used is None:
                return False
            if self._ticks() - used > PASS_S:
                del self._used[given]
                return False
            if is_used:
                self._used[given] = self._ticks()
                self._used.move_to_end(given)
            return True

    def end(self, given: str) -> None:
        """The pass is good no longer."""
        with self._turn:
            self._used.pop(given, None)


class Browsers:
    """The browsers in which the PIN was right. Nothing of it outlives the process."""

    def __init__(self) -> None:
        self._known: OrderedDict[str, None] = OrderedDict()

    def knows(self, name: str) -> bool:
        """Whether this is the name of one."""
        return name in self._known

    def named(self, name: str) -> str:
        """Its name, a new one where it has none; the oldest goes where there are too many."""
        if name in self._known:
            return name
        new = secrets.token_urlsafe(24)
        self._known[new] = None
        if len(self._known) > _MOST_BROWSERS:
            self._known.popitem(last=False)
        return new


class Tries:
    """How often a PIN may be given: five times at once, then once in 20 s. A browser in which it
    was right before has tries of its own, so that whoever guesses from behind the same proxy
    does not lock it out."""

    def __init__(self) -> None:
        self._left = Buckets(per_s=_TRIES_PER_S, burst=_TRIES)
        self.browsers = Browsers()

    def take(self, browser: str, client: str) -> None:
        """One try of this browser (its name, "" for none) at this address. Raises Refused where
        there were too many."""
        if not self._left.take(f"browser {browser}" if self.browsers.knows(browser) else client):
            raise too_many("too-many-tries", "Too many wrong PINs.", wait_s=60)

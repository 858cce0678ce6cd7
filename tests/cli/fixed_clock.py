"""The command line with a clock that the test sets: `python -m tests.cli.fixed_clock START ...`.

Whatever asks for the time gets START (ISO 8601) and twenty seconds more at each look: the
ledger and the counter through their `clock` arguments, commands that look at the clock
themselves through the `datetime` of their module. Nothing depends on the machine's clock; its
time zone is what TZ says. Locks are waited for half a second.
"""

from __future__ import annotations

import functools
import signal
import sys
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Self

from counterfoil.commands import counter, expect, outstanding, returned
from counterfoil.main import main
from pairing.desk import strip_timer
from pairing.ledger import Ledger

STEP = timedelta(seconds=20)


class Clock:
    """Goes on by itself, a step at each look."""

    def __init__(self, start: datetime) -> None:
        self.now = start

    def __call__(self) -> datetime:
        self.now += STEP
        return self.now


def run(start: str, *words: str) -> None:
    """Run one command at that time."""
    clock = Clock(datetime.fromisoformat(start).replace(tzinfo=UTC))

    class Fixed(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> Self:
            moment = clock()
            return cls.fromtimestamp(moment.timestamp(), tz)

    for module in (expect, outstanding, returned):
        module.datetime = Fixed  # type: ignore[attr-defined]
    opened = functools.partial(Ledger.open, clock=clock, patience_s=0.5)
    Ledger.open = opened  # type: ignore[method-assign]
    counter.work = functools.partial(counter.work, clock=clock)
    strip_timer.TURN_OVER_S = 0.0  # a script's hands are quicker than anybody's
    # A shell starts background jobs with the interrupt ignored, and that is inherited.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    sys.argv = ["counterfoil", *words]
    main()


if __name__ == "__main__":
    run(*sys.argv[1:])

"""Clocks that jump: back, by the hour of daylight saving time, by a year."""

from __future__ import annotations

import random
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

from pairing.ledger import Draft, Entry, Kind, Ledger
from pairing.ledger.drafts import SKEW
from pairing.ledger.entries import when
from tests.ledger.making import pair, returned, void

_JUMPS = (
    timedelta(seconds=1), timedelta(seconds=1), timedelta(seconds=1), timedelta(hours=1),
    timedelta(hours=-1), timedelta(days=1), timedelta(days=-1), timedelta(days=365),
    timedelta(days=-365), timedelta(0), timedelta(seconds=-1),
)  # fmt: skip
_OFFERS = 25


class Clock:
    """Somewhere else at each look."""

    def __init__(self, dice: random.Random) -> None:
        self._dice = dice
        self.now = datetime(2026, 3, 8, 6, 59, tzinfo=UTC)
        """A minute before the clocks of New York go forward (IANA time zone database)."""

    def __call__(self) -> datetime:
        self.now += self._dice.choice(_JUMPS)
        return self.now


def jumping(count: int, seed: int) -> tuple[int, list[str]]:
    """So many ledgers, closed and opened again as they grow; everything that was acknowledged is
    there in its order, everything fits, and a clock that went back is recorded."""
    lost = []
    for number in range(count):
        dice = random.Random(f"{seed} {number}")
        with tempfile.TemporaryDirectory(prefix="counterfoil-faults-") as folder:
            try:
                _day(Path(folder) / "ledger.db", Clock(dice), dice)
            except AssertionError as problem:
                lost.append(f"clock {seed} {number}: {problem!r:.300}")
    return count, lost


def _day(path: Path, clock: Clock, dice: random.Random) -> None:
    told: list[Entry] = []
    number = 0
    while number < _OFFERS:
        with Ledger.open(str(path), clock=clock) as ledger:
            for _ in range(dice.randrange(1, 9)):
                number += 1
                outcome = ledger.append(_draft(number, told, dice))
                assert outcome.entry.kind is not Kind.PAIRED or outcome.may_seal
                told.append(outcome.entry)
    with Ledger.open(str(path), clock=clock) as ledger:
        report = ledger.verify()
        assert report.is_clean, report.problem
        entries = {one.sequence: one for one in ledger.entries()}
    assert all(entries[one.sequence] == one for one in told)
    before = ""
    for one in entries.values():
        is_back = bool(before) and when(before) - when(one.at) > SKEW
        is_said = "clock-set-back" in {finding.code for finding in one.findings}
        assert not is_back or is_said or one.key.startswith("signing key "), one
        before = one.at


def _draft(number: int, told: list[Entry], dice: random.Random) -> Draft:
    sealed = [one.sequence for one in told if one.kind is Kind.PAIRED]
    if sealed and dice.random() < 0.15:
        return void(dice.choice(sealed))
    if dice.random() < 0.15:
        return returned(number)
    return pair(number, number)

"""Generated days at two desks, against an independent model of what the pieces truly are.

Clerks scan in either order, twice, cut short, the wrong label, nothing; they key slips, take
back, set aside, start over, correct, void; the program is restarted and the record fails. They
work through every door (`doors`): terminal, lines of a file, the kiosk's page and its camera, the
API. Whatever they do: what is sealed was looked at on both sides, and its label's number is what
is written in a box that was looked at.

    python -m tests.desk.test_generated_days DAYS [FIRST_SEED [PROCESSES]]
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter as Tally
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from typing import cast

import pytest

from pairing.desk.book import RunBook
from pairing.desk.counter import Counter
from pairing.desk.session import Session
from pairing.ledger import Ledger
from tests.desk.clerks import PIECES, Clerk, Truth
from tests.desk.doors import Door, Interface, Page, Terminal
from tests.desk.records import NOW, Record
from tests.desk.states import quicken

Told = Tally[tuple[str, str]]
"""How often each door gave each answer."""


DOORS = ("counter", "file", "check", "page", "api")


class Clock:
    """The time that all desks of a day share."""

    def __init__(self) -> None:
        self.passed_s = 1_000.0

    def ticks(self) -> float:
        return self.passed_s

    def wait(self, seconds: float) -> None:
        self.passed_s += seconds


def opened(name: str, record: Record | Ledger, clock: Clock) -> Door:
    """A door of that name at that record."""
    ledger = cast(Ledger, record)
    if name == "check":
        book = RunBook(lambda: NOW)
        return Terminal(lambda: Session(book, operator="o", ticks=clock.ticks, is_live=True))
    if name in {"counter", "file"}:
        is_live = name == "counter"
        return Terminal(
            lambda: Counter(
                ledger, desk="d", operator="o", clock=lambda: NOW, ticks=clock.ticks,
                is_live=is_live,
            ),
            is_live=is_live,
        )  # fmt: skip
    return Page(ledger, clock.ticks) if name == "page" else Interface(ledger)


def day(seed: int, record: Record | Ledger | None = None) -> Told:
    """One day at two desks that share the record; what was answered how often."""
    chance = random.Random(seed)
    truth, clock = Truth.drawn(chance), Clock()
    names = chance.choices(DOORS, k=2)
    fails = chance.random() < 0.3
    failing = random.Random(seed + 1)
    record = record or Record(lambda: fails and failing.random() < 0.05)
    clerks = [Clerk(opened(name, record, clock), name, chance, clock.wait) for name in names]
    order = [chance.randint(1, PIECES) for _ in range(2 * PIECES)]
    work = [clerk.piece(truth, piece) for piece in order for clerk in clerks]
    under_way = [work[0::2], work[1::2]]
    try:
        while any(under_way):
            mine = chance.choice([one for one in under_way if one])
            if next(mine[0], "done") == "done":
                mine.pop(0)
        _check_record(record)
    except AssertionError as wrong:
        raise AssertionError(f"The day of seed {seed} at {names}") from wrong
    return Tally((clerk.name, advice) for clerk in clerks for advice, _ in clerk.given)


def _check_record(record: Record | Ledger) -> None:
    """No number is held by two pieces."""
    if isinstance(record, Record):
        pieces = record.standing()
        for held in zip(*pieces, strict=True):
            numbers = [one for one in held if isinstance(one, str) and one]
            assert len(numbers) == len(set(numbers))


@pytest.fixture(autouse=True)
def quickened(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is pure is worked out once."""
    quicken(monkeypatch)


def test_days_at_every_door() -> None:
    total: Told = Tally()
    for seed in range(60):
        total += day(seed)
    for door in DOORS:  # the days are not all chaos
        assert total[door, "seal"] > 20
        assert total[door, "look"] > 0


def test_what_did_not_count_does_not_count_when_it_is_offered_again() -> None:
    """A day that went wrong once: a strip announced too early, two scans that were asked about,
    and the service started anew, to which the page offered all of them."""
    day(1_002_214)


@pytest.mark.parametrize("seed", range(3))
def test_days_at_two_desks_of_one_ledger(seed: int, tmp_path: Path) -> None:
    with Ledger.open(str(tmp_path / "ledger.db"), clock=lambda: NOW) as ledger:
        told = day(seed, ledger)
        assert ledger.verify().is_clean
    assert told == day(seed, Record())  # and the ledger's days are those in memory


def some_days(count: int, first: int) -> Told:
    """So many days from that seed on."""
    return sum((day(seed) for seed in range(first, first + count)), start=Tally())


def main() -> None:
    """Run so many days, and say how many pieces were answered how."""
    days, first, processes = (*map(int, sys.argv[1:]), *(0, 1)[len(sys.argv) - 2 :])
    start, total = time.monotonic(), Tally[tuple[str, str]]()
    patch = pytest.MonkeyPatch()
    with ProcessPoolExecutor(processes, initializer=quicken, initargs=(patch,)) as pool:
        parts = pool.map(partial(some_days, 50), range(first, first + days, 50))
        for done, told in enumerate(parts, 1):
            total += told
            if done % 100 == 0 or 50 * done >= days:
                spent = time.monotonic() - start
                print(f"{50 * done:,} days from seed {first}; {spent:.0f} s", flush=True)
                _print(total)


def _print(total: Told) -> None:
    for door in DOORS:
        told = {advice: many for (at, advice), many in sorted(total.items()) if at == door}
        print("   ", door, told, flush=True)


if __name__ == "__main__":
    main()

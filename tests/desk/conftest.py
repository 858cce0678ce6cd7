"""A terminal and a file of lines at one ledger, with a clock that goes on when told."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pairing.desk.answers import Finished
from pairing.desk.counter import Counter
from pairing.ledger import Ledger


class Now:
    """A clock and a stopwatch that go on when told."""

    def __init__(self) -> None:
        self.passed_s = 0.0

    def clock(self) -> datetime:
        return datetime(2026, 3, 2, 12, tzinfo=UTC) + timedelta(seconds=self.passed_s)

    def ticks(self) -> float:
        return 1_000 + self.passed_s


@pytest.fixture
def now() -> Now:
    return Now()


@pytest.fixture
def ledger(tmp_path: Path, now: Now) -> Iterator[Ledger]:
    with Ledger.open(str(tmp_path / "ledger.db"), clock=now.clock) as opened:
        yield opened


@pytest.fixture
def desk(ledger: Ledger, now: Now) -> Counter:
    """A terminal: somebody sees each answer before the next entry."""
    return Counter(
        ledger, desk="desk 1", operator="Theda Orrick", clock=now.clock, ticks=now.ticks,
        is_live=True,
    )  # fmt: skip


@pytest.fixture
def piped(ledger: Ledger, now: Now) -> Counter:
    """Lines of a file, which nobody watches."""
    return Counter(ledger, desk="desk 2", operator="o", clock=now.clock, ticks=now.ticks)


def take(session: Counter, *lines: str) -> list[Finished]:
    """The pieces that these lines finish."""
    return [piece for line in lines for piece in session.take(line).finished]

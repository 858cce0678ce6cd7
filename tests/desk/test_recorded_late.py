"""A piece that was not recorded when it was read, and what became of it elsewhere meanwhile."""

from __future__ import annotations

from pathlib import Path

import pytest

from pairing.desk.answers import Advice
from pairing.desk.counter import Counter
from pairing.errors import LedgerUnusable
from pairing.ledger import Draft, Ledger, Outcome
from tests.desk.conftest import Now, take
from tests.ledger.making import card, label


class Away(Ledger):
    """A ledger that cannot be written at times."""

    is_away = False

    def append(self, draft: Draft) -> Outcome:
        if self.is_away:
            raise LedgerUnusable("It is away", where="here", remedy="Wait.")
        return super().append(draft)


def read_while_away(ledger: Away, now: Now) -> Counter:
    """A desk that read a piece, and was told that it is not recorded."""
    first = Counter(ledger, desk="1", operator="o", clock=now.clock, ticks=now.ticks)
    ledger.is_away = True
    (piece,) = take(first, label(1), card(1), f"box {label(1)}")
    assert piece.advice is Advice.NOT_RECORDED
    ledger.is_away = False
    now.passed_s += 60
    return first


@pytest.mark.parametrize("box", [2, 1])
def test_an_older_reading_does_not_seal_what_was_stopped_since(
    tmp_path: Path, now: Now, box: int
) -> None:
    with Away.open(str(tmp_path / "ledger.db"), clock=now.clock) as ledger:
        first = read_while_away(ledger, now)
        second = Counter(ledger, desk="2", operator="p", clock=now.clock, ticks=now.ticks)
        if box == 2:
            (piece,) = take(second, label(1), card(1), f"box {label(2)}")
            assert piece.advice is Advice.DO_NOT_SEAL
        now.passed_s += 60
        (piece,) = take(first, "retry")
        codes = {str(one.code) for one in piece.judgment.findings}
        assert (piece.advice is Advice.SEAL) == (box == 1)
        assert ("stopped-since" in codes) == (box == 2)
        assert len(list(ledger.pieces())) == (box == 1)


def test_read_again_after_the_stop_it_may_be_sealed(tmp_path: Path, now: Now) -> None:
    with Away.open(str(tmp_path / "ledger.db"), clock=now.clock) as ledger:
        first = read_while_away(ledger, now)
        take(first, label(1), card(1), f"box {label(2)}", "retry")
        now.passed_s += 60
        (piece,) = take(first, label(1), card(1), f"box {label(1)}")
        assert piece.advice is Advice.SEAL

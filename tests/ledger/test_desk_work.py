"""Day list, returned cards and what is outstanding, on SQLite and on PostgreSQL."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from pairing.desk.card_session import CardSession
from pairing.desk.daylist import given_out, record
from pairing.desk.outstanding import outstanding
from pairing.desk.returns import take_back
from pairing.ledger import Ledger
from pairing.model import Verdict
from tests.ledger.making import Clock, card, label, pair, void
from tests.ledger.together import TOGETHER

DAY = date(2026, 3, 2)
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


def test_a_day_and_what_came_back(url: str, tmp_path: Path) -> None:
    clock = Clock(now=NOON)
    with Ledger.open(url, files=tmp_path / "f", clock=clock) as ledger:
        for number in (3, 1, 2):
            ledger.append(pair(number, number))
        words = {"desk": "", "at_desk": "d", "operator": "o", "zone": UTC}
        first = record(ledger, DAY, **words)  # type: ignore[arg-type]
        assert [row.article for row in first.entered] == [label(1), label(2), label(3)]
        ledger.append(void(1))
        second = record(ledger, DAY, **words)  # type: ignore[arg-type]
        assert [row.article for row in second.struck] == [label(3)]
        assert given_out(ledger, DAY) == (first, second)
        clock.now += timedelta(days=40)
        tray = CardSession()
        for line in (card(1), f"box {label(1)}", "signed 2026-03-10"):
            tray.take(line)
        (read,) = tray.close().cards
        today = date(2026, 4, 11)
        result = take_back(ledger, read, desk="d", operator="o", today=today, zone=UTC)
        assert (result.verdict, result.days) == (Verdict.AGREES, 40)
        late = outstanding(ledger, now=clock.now, least_days=30, zone=UTC)
        assert [one.piece.article for one in late] == [label(2)]
        assert ledger.verify().is_clean


def _print(url: str, files: str, desk: int, barrier: object) -> None:
    with Ledger.open(url, files=Path(files), clock=lambda: NOON) as ledger:
        barrier.wait()  # type: ignore[attr-defined]
        for number in range(10):
            ledger.append(pair(desk * 100 + number, desk * 100 + number))
            record(ledger, DAY, desk="", at_desk=f"d{desk}", operator="o", zone=UTC)


def test_desks_that_print_at_the_same_time_list_every_piece_once(url: str, tmp_path: Path) -> None:
    barrier = TOGETHER.Barrier(3)
    files = str(tmp_path / "f")
    desks = [TOGETHER.Process(target=_print, args=(url, files, desk, barrier)) for desk in range(3)]
    Ledger.open(url, files=tmp_path / "f").close()
    for desk in desks:
        desk.start()
    for desk in desks:
        desk.join(timeout=60)
        assert desk.exitcode == 0
    with Ledger.open(url, files=tmp_path / "f") as ledger:
        lists = given_out(ledger, DAY)
        listed = [row.article for one in lists for row in one.entered]
        assert sorted(listed) == sorted(
            label(desk * 100 + number) for desk in range(3) for number in range(10)
        )
        assert [one.number for one in lists] == list(range(1, len(lists) + 1))
        assert ledger.verify().is_clean

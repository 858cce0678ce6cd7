"""The day's acceptance list: what is on it, in what order, and what a supplement says."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from pairing.desk import dates, daylist
from pairing.desk.daylist import DayList, compose, given_out, record
from pairing.desk.daylist_rows import csv_lines
from pairing.desk.for_whom import described
from pairing.errors import LedgerDamaged
from pairing.ledger import Draft, Kind, Ledger
from tests.ledger.making import Clock, card, label, pair, returned, void

DAY = date(2026, 3, 2)
PACIFIC = ZoneInfo("America/Los_Angeles")  # IANA time zone database
S10 = "EE876543216CA"  # UPU S10-12 Annex A


@pytest.fixture
def clock() -> Clock:
    """Noon of the day, so that it is that day in most time zones."""
    return Clock(now=datetime(2026, 3, 2, 12, tzinfo=UTC))


@pytest.fixture
def ledger(tmp_path: Path, clock: Clock) -> Iterator[Ledger]:
    with Ledger.open(str(tmp_path / "ledger.db"), clock=clock) as opened:
        yield opened


def made(ledger: Ledger, **more: Any) -> DayList:
    """The list given out now."""
    words: dict[str, Any] = {"desk": "", "at_desk": "desk 9", "operator": "chief", "zone": UTC}
    return record(ledger, DAY, **words | more)


def articles(found: DayList) -> list[str]:
    return [row.article for row in found.entered]


def test_articles_come_in_numerical_order(ledger: Ledger) -> None:
    # PS Form 3877 (6/2011), guide: articles listed in numerical order, total entered.
    package20 = "71123456789123456787"  # TND: the 20-digit worked example
    for number in (30, 4, 200):
        ledger.append(pair(number, number))
    ledger.append(_with(S10, None))
    ledger.append(_with(package20, 9))
    found = compose(ledger, DAY, zone=UTC)
    assert articles(found) == [package20, label(4), label(30), label(200), S10]
    assert found.standing == 5
    assert found.title == "Acceptance list"


def _with(article: str, with_card: int | None) -> Draft:
    from dataclasses import replace

    draft = pair(0, with_card)
    return replace(draft, article=article, written=article, readings=())


def test_what_was_voided_stopped_or_of_another_day_is_not_on_it(
    ledger: Ledger, clock: Clock
) -> None:
    for number in (1, 2, 3):
        ledger.append(pair(number, number))
    ledger.append(void(2))
    ledger.append(pair(3, 8))  # stopped: the label is taken
    ledger.append(returned(1, 1))  # it went out, so it stays on the list
    clock.now += timedelta(days=1)
    ledger.append(pair(4, 4))
    assert articles(compose(ledger, DAY, zone=UTC)) == [label(1), label(3)]


def test_a_day_is_the_desks_and_not_that_of_utc(ledger: Ledger, clock: Clock) -> None:
    # In Los Angeles, 8 hours behind UTC in March before the 8th (IANA), the office works
    # until 01:00 UTC of the next day.
    clock.now = datetime(2026, 3, 3, 0, 30, tzinfo=UTC)
    ledger.append(pair(1, 1))
    assert articles(compose(ledger, DAY, zone=PACIFIC)) == [label(1)]
    assert articles(compose(ledger, DAY, zone=UTC)) == []


@pytest.mark.parametrize(
    ("day", "hours"),
    # United States: daylight saving time from 8 March to 1 November 2026 (IANA).
    [(date(2026, 3, 7), 24), (date(2026, 3, 8), 23), (date(2026, 11, 1), 25)],
)
def test_days_with_23_and_25_hours(day: date, hours: int) -> None:
    since, until = dates.span(day, PACIFIC)
    assert until.astimezone(UTC) - since.astimezone(UTC) == timedelta(hours=hours)
    assert dates.day_of(since, PACIFIC) == day
    assert dates.day_of(until - timedelta(seconds=1), PACIFIC) == day


def test_a_list_that_was_given_out_is_known_later(ledger: Ledger) -> None:
    for number in (1, 2, 3):
        ledger.append(pair(number, number))
    first = made(ledger)
    assert (first.number, first.supplements, len(first.entered)) == (1, (), 3)
    assert given_out(ledger, DAY) == (first,)
    entry = list(ledger.entries(kinds=[Kind.NOTE]))[-1]
    assert (entry.desk, entry.operator) == ("desk 9", "chief")
    assert entry.remark.splitlines()[0] == "Day list 2026-03-02 number 1: 3 sealed"
    assert ledger.verify().is_clean


def test_nothing_new_makes_no_second_list(ledger: Ledger) -> None:
    assert made(ledger).is_empty
    ledger.append(pair(1, 1))
    made(ledger)
    size = ledger.size()
    again = made(ledger)
    assert again.is_empty
    assert again.standing == 1
    assert ledger.size() == size


def test_a_supplement_says_what_was_added_voided_and_corrected(ledger: Ledger) -> None:
    for number in (1, 2, 3, 4):
        ledger.append(pair(number, number))
    made(ledger)
    ledger.append(void(2))
    ledger.append(pair(3, 33, kind=Kind.CORRECTED, refers=3))
    ledger.append(pair(5, 5))
    ledger.append(pair(6, 6))
    ledger.append(void(9))  # voided before any list had it
    second = made(ledger)
    assert (second.number, second.supplements) == (2, (1,))
    assert second.title == "Supplement to list 1"
    assert articles(second) == [label(5)]
    assert [row.article for row in second.struck] == [label(2)]
    ((was, now),) = [(one.was.card, one.now.card) for one in second.changed]
    assert (was, now) == (card(3), card(33))
    assert second.standing == 4
    # Each of it is said once.
    assert made(ledger).is_empty
    ledger.append(void(3))
    third = made(ledger)
    assert [(row.article, row.card) for row in third.struck] == [(label(3), card(33))]
    assert third.supplements == (1, 2)
    assert not third.entered


def test_a_draft_has_the_whole_day_and_is_not_recorded(ledger: Ledger) -> None:
    ledger.append(pair(1, 1))
    made(ledger)
    ledger.append(pair(2, 2))
    draft = compose(ledger, DAY, zone=UTC, is_whole=True)
    assert articles(draft) == [label(1), label(2)]
    assert draft.made is None
    assert len(given_out(ledger, DAY)) == 1


def test_desks_have_lists_of_their_own(ledger: Ledger) -> None:
    ledger.append(pair(1, 1, desk="north"))
    ledger.append(pair(2, 2, desk="south"))
    north, south = made(ledger, desk="north"), made(ledger, desk="south")
    assert (articles(north), articles(south)) == ([label(1)], [label(2)])
    # The second is no supplement of the first: they share no piece.
    assert (south.number, south.supplements, south.standing) == (2, (), 1)
    ledger.append(pair(3, 3, desk="south"))
    together = made(ledger)
    assert articles(together) == [label(3)]
    assert together.supplements == (1, 2)


def test_two_who_print_at_the_same_moment_get_a_list_each(
    ledger: Ledger, clock: Clock, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The other's list comes between composing and recording."""
    ledger.append(pair(1, 1))
    plain = daylist.compose
    with Ledger.open(str(tmp_path / "ledger.db"), clock=clock) as other:
        calls: list[object] = []

        def slow(*words: Any, **more: Any) -> DayList:
            found = plain(*words, **more)
            if not calls:
                calls.append(1)
                other.append(pair(2, 2))
                monkeypatch.setattr(daylist, "compose", plain)
                record(other, DAY, desk="", at_desk="b", operator="b", zone=UTC)
            return found

        monkeypatch.setattr(daylist, "compose", slow)
        mine = made(ledger)
    # The other's list has both pieces; nothing is left for this one.
    assert mine.is_empty
    (theirs,) = given_out(ledger, DAY)
    assert articles(theirs) == [label(1), label(2)]


def test_a_note_of_a_person_is_no_list(ledger: Ledger) -> None:
    ledger.append(pair(1, 1))
    note = Draft(kind=Kind.NOTE, desk="d", operator="o", remark="Day list 2026-03-02 is lost")
    ledger.append(note)
    assert made(ledger).number == 1


def test_a_list_that_cannot_be_read_is_said(ledger: Ledger) -> None:
    ledger.append(
        Draft(
            kind=Kind.NOTE,
            desk="d",
            operator="o",
            remark="Day list x\n{}",
            key="daylist/2026-03-02/1",
        )
    )
    with pytest.raises(LedgerDamaged, match="cannot be read"):
        compose(ledger, DAY, zone=UTC)


def test_the_csv_keeps_digits_and_harms_no_spreadsheet(ledger: Ledger) -> None:
    for number in (1, 2):
        ledger.append(pair(number, number, desk="=cmd"))
    made(ledger)
    ledger.append(void(1))
    ledger.append(pair(2, 22, kind=Kind.CORRECTED, refers=2))
    ledger.append(pair(3, 3, desk="=cmd"))
    second = made(ledger, desk="=cmd")
    rows = list(csv.DictReader(csv_lines(second, {6: {"address": "-1 Nowhere Lane"}})))
    assert [row["says"] for row in rows] == ["sealed", "voided", "corrected"]
    assert {row["desk"] for row in rows} == {"'=cmd"}
    assert rows[0]["article"].replace(" ", "") == label(3)
    assert rows[0]["article"].count(" ") == 5
    assert rows[0]["addressee"] == "'-1 Nowhere Lane"
    assert rows[2]["was_card"].replace(" ", "") == card(2)
    assert rows[2]["card"].replace(" ", "") == card(22)


def test_names_stand_first_in_a_line_and_are_gone_once_erased(ledger: Ledger) -> None:
    person = {"address": "3 Lantern Steps\nQuillhaven", "name": "Isaura Penbrook"}
    ledger.append(pair(1, 1, particulars=person))
    ledger.append(pair(2, 2))
    found = made(ledger)
    about = daylist.about(ledger, found)
    assert about.keys() == {1}
    assert described(about[1]) == "Isaura Penbrook, 3 Lantern Steps Quillhaven"
    note = list(ledger.entries(kinds=[Kind.NOTE]))[-1]
    assert "Penbrook" not in note.remark  # what is erasable must not be copied into an entry
    assert json.loads(note.remark.partition("\n")[2])["entered"][0] == [1, label(1), card(1)]
    ledger.forget(label(1), desk="d", operator="o")
    assert daylist.about(ledger, found) == {}


def test_a_void_of_yesterday_is_remembered_today(ledger: Ledger, clock: Clock) -> None:
    for number in (1, 2):
        ledger.append(pair(number, number))
    made(ledger)
    clock.now += timedelta(days=1)
    today = DAY + timedelta(days=1)
    assert daylist.outdated(ledger, today, zone=UTC) == ()
    ledger.append(void(2))
    assert daylist.outdated(ledger, today, zone=UTC) == (DAY,)
    assert daylist.outdated(ledger, DAY, zone=UTC) == ()
    assert daylist.outdated(ledger, DAY + timedelta(days=15), zone=UTC) == ()
    ledger.append(Draft(kind=Kind.NOTE, desk="d", operator="o", key="daylist/2026-03-0x/1"))
    assert made(ledger).struck
    assert daylist.outdated(ledger, today, zone=UTC) == ()

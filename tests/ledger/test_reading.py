"""Reading the ledger: lists, stories, what the judge is told, privacy, photos."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from pairing.errors import LedgerUnusable
from pairing.judge import judge
from pairing.ledger import Draft, Kind, Ledger, State, check_proof
from pairing.model import How, Reading, Side, Verdict
from pairing.numbers import identify
from tests.ledger.making import Clock, card, label, pair, returned, void


def test_entries_come_in_order_by_kind_and_time(ledger: Ledger, clock: Clock) -> None:
    for number in range(1200):
        ledger.append(pair(number, number))
        if number == 599:
            clock.now += timedelta(days=1)
            middle = clock.now
    ledger.append(returned(5))
    assert ledger.entry(602).kind is Kind.NOTE  # type: ignore[union-attr] # the day's key
    assert [one.sequence for one in ledger.entries()] == list(range(1, 1203))
    assert [one.sequence for one in ledger.entries(first=1190)] == list(range(1190, 1203))
    assert [one.sequence for one in ledger.entries(kinds=[Kind.RETURNED])] == [1202]
    assert [one.sequence for one in ledger.entries(until=middle)] == list(range(1, 601))
    late = ledger.entries(since=middle, kinds=[Kind.PAIRED])
    assert [one.sequence for one in late] == [601, *range(603, 1202)]
    states = [piece.state for piece in ledger.pieces()]
    assert states.count(State.RETURNED) == 1
    assert len(states) == 1200
    assert [one.sequence for one in ledger.pieces(states=[State.RETURNED])] == [6]


def test_the_whole_story_of_a_number(ledger: Ledger) -> None:
    ledger.append(pair(1, 1))
    ledger.append(pair(2, 2))
    ledger.append(pair(2, 3))  # 3: stopped
    ledger.append(void(1))
    ledger.append(pair(1, 4))
    ledger.append(returned(4, 2))  # 6: its box names label 2
    ledger.append(void(6))
    story = ledger.story(label(1))
    assert [one.sequence for one in story.entries] == [1, 4, 5, 6, 7]
    assert [piece.state for piece in story.pieces] == [State.VOID, State.OPEN]
    # The box that named it is part of label 2's story.
    assert [one.sequence for one in ledger.story(label(2)).entries] == [2, 3, 5, 6, 7]
    assert [piece.sequence for piece in ledger.story(label(2)).pieces] == [2]
    assert ledger.story(label(9)).entries == ()


def test_the_judge_is_told_of_earlier_pieces(ledger: Ledger) -> None:
    ledger.append(pair(1, 1))
    ledger.append(pair(2, 2))
    ledger.append(void(2))
    earlier = ledger.earlier(article=label(3), card=card(1))
    assert [(use.article, use.card) for use in earlier] == [(label(1), card(1))]
    readings = [
        Reading(side=side, how=How.BARCODE, number=identify(number), source="scan")
        for side, number in (
            (Side.LABEL, label(3)),
            (Side.CARD, card(1)),
            (Side.BOX, label(3)),
        )
    ]
    assert "card-used-before" in {one.code for one in judge(readings, earlier=earlier).findings}
    assert ledger.earlier(article=label(2), card=card(2)) == ()
    assert ledger.earlier(article=None, card=None) == ()


def test_the_judge_is_told_of_expected_pairs(ledger: Ledger, clock: Clock) -> None:
    start = clock.now
    assert ledger.expected(article=label(1), card=card(1), since=start) == ()
    for number in (1, 2):
        ledger.append(
            Draft(
                kind=Kind.EXPECTED,
                desk="d",
                operator="o",
                article=label(number),
                card=card(number),
                remark="list.csv",
                key=f"list.csv {label(number)}",
            )
        )
    both = ledger.expected(article=label(1), card=card(2), since=start)
    assert {(one.article, one.card) for one in both} == {
        (label(1), card(1)),
        (label(2), card(2)),
    }
    # A number that is on no list is not taken for "there is no list".
    assert len(ledger.expected(article=label(9), card=card(9), since=start)) == 1
    assert ledger.expected(article=label(9), card=card(9), since=clock()) == ()


def test_names_are_erased_and_the_chain_holds(ledger: Ledger, tmp_path: Path) -> None:
    person = {"address": "1 Nowhere Lane", "name": "Invented Addressee Zyx"}
    ledger.append(pair(1, 1, particulars=person))
    ledger.append(returned(1, 1, particulars={"signed by": "Invented Addressee Zyx"}))
    ledger.append(pair(2, 2, particulars={"name": "Somebody Else Qwv"}))
    assert ledger.particulars(1) == person
    assert b"Zyx" not in b"".join(ledger.export_lines())
    assert b"Zyx" in b"".join(ledger.export_lines(with_particulars=True))
    root = ledger.verify().root
    assert ledger.forget(label(1), desk="desk 1", operator="clerk 7") == 2
    assert ledger.particulars(1) is None
    assert ledger.particulars(2) is None
    assert ledger.particulars(3) == {"name": "Somebody Else Qwv"}
    assert ledger.verify().is_clean
    assert ledger.verify().root != root  # a note says that it was done
    assert ledger.forget(label(1), desk="desk 1", operator="clerk 7") == 0
    files = [path.read_bytes() for path in tmp_path.iterdir()]
    assert not any(b"Zyx" in data for data in files)
    assert any(b"Qwv" in data for data in files)


def test_forgetting_one_piece_keeps_the_names_of_others(ledger: Ledger) -> None:
    ledger.append(pair(1, 1, particulars={"name": "Invented One"}))
    ledger.append(pair(2, 2, particulars={"name": "Invented Two"}))
    ledger.append(returned(1, 2))  # the box names label 2: it is in that label's story too
    assert ledger.forget(label(2), desk="d", operator="o") == 1
    assert ledger.particulars(1) == {"name": "Invented One"}
    assert ledger.particulars(2) is None


def test_the_same_names_have_another_commitment_each_time(ledger: Ledger) -> None:
    person = {"name": "Invented Addressee"}
    first = ledger.append(pair(1, 1, particulars=person)).entry.commitment
    assert first != ledger.append(pair(2, 2, particulars=person)).entry.commitment
    assert len(first) == 64


def test_photos_are_kept_if_asked_and_erased_with_the_names(ledger: Ledger) -> None:
    digest = ledger.keep_photo(b"a photo")
    assert ledger.keep_photo(b"a photo") == digest
    assert ledger.photo(digest) == b"a photo"
    draft = pair(1, 1)
    readings = tuple(
        type(one)(side=one.side, how=one.how, via=one.via, text=one.text, photo_sha256=digest)
        for one in draft.readings
    )
    ledger.append(pair(1, 1, readings=readings))
    assert ledger.forget(label(1), desk="d", operator="o") == 1
    assert ledger.photo(digest) is None


def test_the_pieces_that_bear_any_of_some_numbers(ledger: Ledger) -> None:
    for number in (1, 2, 3, 4):
        ledger.append(pair(number, number))
    ledger.append(void(3))
    ledger.append(pair(4, 44, kind=Kind.CORRECTED, refers=4))
    found = ledger.bearing([label(1), card(3), card(4), card(99)])
    # Card 4 was replaced; card 3 is on a void piece, which is given too.
    assert [(piece.sequence, piece.state) for piece in found] == [(1, State.OPEN), (3, State.VOID)]
    assert [piece.sequence for piece in ledger.bearing([card(44)])] == [4]
    assert ledger.bearing([]) == ()
    assert len(ledger.bearing([label(number) for number in range(500)])) == 4


def test_times_count_even_where_the_clock_was_set_back(ledger: Ledger, clock: Clock) -> None:
    for number in range(30):
        if number == 10:
            clock.now += timedelta(days=2)
        if number == 20:
            clock.now -= timedelta(days=1)
            back = clock.now
        ledger.append(pair(number, number))
    during = ledger.entries(kinds=[Kind.PAIRED], since=back, until=back + timedelta(hours=1))
    assert [one.sequence for one in during] == list(range(22, 32))  # 12: the day's key
    late = ledger.entries(since=back + timedelta(hours=1))
    assert [one.sequence for one in late] == list(range(11, 22))
    assert [one.sequence for one in ledger.entries(since=back, first=25)] == list(range(25, 32))
    assert list(ledger.entries(since=clock.now + timedelta(days=9))) == []


def test_a_ledger_that_must_exist_is_not_made(tmp_path: Path) -> None:
    for name in ("gone.db", "no/folder/gone.db"):
        with pytest.raises(LedgerUnusable, match="no ledger there"):
            Ledger.open(str(tmp_path / name), must_exist=True)
    (tmp_path / "empty.db").touch()
    with pytest.raises(LedgerUnusable, match="no ledger there"):
        Ledger.open(str(tmp_path / "empty.db"), must_exist=True)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["empty.db"]
    Ledger.open(str(tmp_path / "ledger.db")).close()
    Ledger.open(str(tmp_path / "ledger.db"), must_exist=True).close()


def test_it_all_works_on_either_database(url: str, tmp_path: Path, clock: Clock) -> None:
    """Lists, spans of time, bearing and the walk, on SQLite and on PostgreSQL."""
    with pytest.raises(LedgerUnusable, match="no ledger there"):
        Ledger.open(url, files=tmp_path / "f", must_exist=True)
    with Ledger.open(url, files=tmp_path / "f", clock=clock) as ledger:
        for number in range(700):
            ledger.append(pair(number, number))
            if number == 599:
                middle = clock.now + timedelta(seconds=0.5)
        ledger.append(returned(5, 5))
        assert ledger.verify().is_clean
        assert ledger.verify().entries == 701
        late = ledger.entries(kinds=[Kind.PAIRED], since=middle)
        assert [one.sequence for one in late] == list(range(601, 701))
        assert [one.sequence for one in ledger.bearing([card(5), label(699)])] == [6, 700]
        assert len(list(ledger.pieces(states=[State.OPEN], until=middle))) == 599
        check = check_proof(ledger.proof(label(5)))
        assert check.holds


def test_a_card_that_was_not_read_to_the_end_may_come_again(ledger: Ledger) -> None:
    ledger.append(pair(1, 1))
    first = ledger.append(returned(1, None, verdict=Verdict.UNREAD))
    second = ledger.append(returned(1, 1, key="again"))
    assert first.is_as_offered
    assert second.is_as_offered
    assert [one.code for one in second.entry.findings] == ["return-read-again"]
    assert ledger.append(returned(1, 1, key="again")).is_as_offered
    third = ledger.append(returned(1, 1))
    assert third.is_as_offered
    assert [one.code for one in third.entry.findings] == ["return-same"]
    fourth = ledger.append(returned(1, 2, verdict=Verdict.DIFFERS))
    assert fourth.entry.verdict is Verdict.DIFFERS
    assert "return-again" in [one.code for one in fourth.entry.findings]

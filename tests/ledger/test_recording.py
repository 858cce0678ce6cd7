"""What becomes of a draft."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from pairing.errors import EntryRefused, KeyReused
from pairing.findings import Finding, Weight
from pairing.judge import judge
from pairing.ledger import Draft, Kind, Ledger, State, draft_of
from pairing.ledger.database import ledger_url
from pairing.ledger.entries import RecordedFinding, recorded
from pairing.model import How, Reading, Side, Verdict
from pairing.numbers import identify
from tests.ledger.making import Clock, card, label, pair, returned, void


def codes(findings: Iterable[Finding | RecordedFinding]) -> set[str]:
    return {finding.code for finding in findings}


def test_a_judged_piece_is_recorded_as_it_was_read(ledger: Ledger) -> None:
    number, own = label(1), card(1)
    readings = [
        Reading(side=Side.LABEL, how=How.BARCODE, number=identify(number), source="scan"),
        Reading(side=Side.CARD, how=How.BARCODE, number=identify(own), source="front.jpg"),
        Reading(side=Side.BOX, how=How.KEYED, number=identify(number), source="keyed"),
    ]
    judged = judge(readings)
    draft = draft_of(
        judged, readings, desk="desk 1", operator="clerk 7", photos={"front.jpg": "ab" * 32}
    )
    outcome = ledger.append(draft)
    assert outcome.may_seal
    entry = ledger.entry(1)
    assert entry == outcome.entry
    assert entry is not None
    assert [one.via.value for one in entry.readings] == ["scan", "photo", "keyed"]
    assert entry.readings[1].photo_sha256 == "ab" * 32
    assert (entry.article, entry.card, entry.written) == (number, own, number)
    assert entry.findings == tuple(recorded(one) for one in judged.findings)


def test_an_unread_piece_is_stopped_and_holds_nothing(ledger: Ledger) -> None:
    stopped = pair(1, 1, kind=Kind.STOPPED, verdict=Verdict.UNREAD, written=None)
    outcome = ledger.append(stopped)
    assert not outcome.may_seal
    assert outcome.entry.verdict is Verdict.UNREAD
    assert ledger.append(pair(1, 1)).may_seal


@pytest.mark.parametrize(
    "change",
    [
        {"verdict": Verdict.DIFFERS},
        {"verdict": None},
        {"written": label(2)},
        {"article": None, "written": None},
        {"findings": (Finding.read_back("x", message="x", weight=Weight.DOUBT),)},
    ],
)
def test_what_does_not_agree_is_never_recorded_as_paired(
    ledger: Ledger, change: dict[str, Any]
) -> None:
    with pytest.raises(EntryRefused):
        ledger.append(replace(pair(1, 1), **change))
    assert ledger.size() == 0


def test_a_label_that_is_taken_is_stopped_with_the_finding(ledger: Ledger) -> None:
    first = ledger.append(pair(1, 1))
    second = ledger.append(pair(1, 2))
    assert first.may_seal
    assert not second.may_seal
    assert not second.is_as_offered
    assert second.entry.kind is Kind.STOPPED
    assert second.entry.verdict is Verdict.DIFFERS
    assert codes(second.entry.findings) == {"label-taken"}


def test_a_card_that_is_taken_is_stopped_with_the_finding(ledger: Ledger) -> None:
    ledger.append(pair(1, 1))
    second = ledger.append(pair(2, 1))
    assert second.entry.kind is Kind.STOPPED
    assert codes(second.entry.findings) == {"card-taken"}
    # The stopped piece holds nothing: its label goes out with another card.
    assert ledger.append(pair(2, 2)).may_seal


def test_the_same_piece_again_is_said_not_accepted(ledger: Ledger) -> None:
    ledger.append(pair(1, 1))
    again = ledger.append(pair(1, 1))
    assert again.entry.kind is Kind.STOPPED
    assert again.entry.verdict is Verdict.UNREAD
    assert codes(again.entry.findings) == {"piece-recorded-before"}


def test_a_label_and_a_card_of_two_pieces_are_both_said(ledger: Ledger) -> None:
    ledger.append(pair(1, 1))
    ledger.append(pair(2, 2))
    crossed = ledger.append(pair(1, 2))
    assert codes(crossed.entry.findings) == {"label-taken", "card-taken"}


@pytest.mark.parametrize(
    ("number", "years"),
    [
        # USPS Publication 109, 2-8: unique for at least two years.
        (label(1), 2),
        # UPU S10-12: not again within twelve months. The number is that of its Annex A.
        ("EE876543216CA", 1),
    ],
)
def test_a_number_is_free_again_after_its_window(
    ledger: Ledger, clock: Clock, number: str, years: int
) -> None:
    offer = replace(pair(1, None), article=number, written=number)
    start = clock.now + clock.step
    assert ledger.append(offer).may_seal
    clock.now = start.replace(year=start.year + years) - timedelta(seconds=2)
    assert not ledger.append(offer).may_seal
    outcome = ledger.append(offer)
    assert clock.now == start.replace(year=start.year + years)
    assert outcome.may_seal
    assert codes(outcome.entry.findings) == {"label-reused", "label-stopped-before"}
    # And now the newer piece holds it.
    assert not ledger.append(offer).may_seal


def test_a_leap_day_counts_to_the_first_of_march(ledger: Ledger, clock: Clock) -> None:
    clock.now = datetime(2028, 2, 29, 12, tzinfo=UTC)
    ledger.append(pair(1, None))
    clock.now = datetime(2030, 3, 1, 11, tzinfo=UTC)
    assert not ledger.append(pair(1, None)).may_seal
    clock.now = datetime(2030, 3, 1, 12, 1, tzinfo=UTC)
    assert ledger.append(pair(1, None)).may_seal


def test_a_void_frees_both_numbers_with_a_note(ledger: Ledger) -> None:
    ledger.append(pair(1, 1))
    assert ledger.append(void(1)).is_as_offered
    redone = ledger.append(pair(1, 2))
    assert redone.may_seal
    assert codes(redone.entry.findings) == {"label-void-before"}
    assert codes(ledger.append(pair(2, 1)).entry.findings) == {"card-void-before"}
    again = ledger.append(void(1))
    assert not again.is_as_offered
    assert again.entry.kind is Kind.NOTE
    assert codes(again.entry.findings) == {"void-again"}
    assert codes(ledger.append(void(99)).entry.findings) == {"void-of-nothing"}


def test_a_correction_frees_what_it_replaces_and_holds_the_new(ledger: Ledger) -> None:
    ledger.append(pair(1, 1))
    ledger.append(pair(2, 2))
    taken = ledger.append(pair(1, 2, kind=Kind.CORRECTED, refers=1))
    assert taken.entry.kind is Kind.NOTE
    assert codes(taken.entry.findings) == {"card-taken"}
    assert ledger.append(pair(1, 3, kind=Kind.CORRECTED, refers=1)).is_as_offered
    (piece,) = ledger.story(label(1)).pieces
    assert (piece.card, piece.state) == (card(3), State.OPEN)
    assert ledger.append(pair(4, 1)).may_seal
    assert codes(ledger.append(pair(5, 3)).entry.findings) == {"card-taken"}
    with pytest.raises(EntryRefused):
        ledger.append(pair(1, 3, kind=Kind.CORRECTED))


def test_another_piece_corrects_none(ledger: Ledger) -> None:
    """It would take the place of a piece that was mailed, whose card would come back unknown."""
    ledger.append(pair(1, 1))
    other = ledger.append(pair(2, 2, kind=Kind.CORRECTED, refers=1))
    assert other.entry.kind is Kind.NOTE
    assert codes(other.entry.findings) == {"correction-of-another"}
    (piece,) = ledger.story(label(1)).pieces
    assert (piece.card, piece.state) == (card(1), State.OPEN)
    assert ledger.append(pair(2, 1, kind=Kind.CORRECTED, refers=1)).is_as_offered


def test_returned_cards(ledger: Ledger) -> None:
    ledger.append(pair(1, 1))
    ledger.append(pair(2, 2))
    ledger.append(pair(3, 3))
    ledger.append(void(3))
    good = ledger.append(returned(1, 1))
    assert good.is_as_offered
    assert good.entry.refers == 1
    assert codes(ledger.append(returned(1, 1)).entry.findings) == {"return-same"}
    other = ledger.append(returned(1, 2))
    assert codes(other.entry.findings) == {"return-again", "return-names-another"}
    other = ledger.append(returned(2, 1))
    assert codes(other.entry.findings) == {"return-names-another"}
    assert other.entry.verdict is Verdict.DIFFERS
    assert codes(ledger.append(returned(3, 3)).entry.findings) == {"return-of-void"}
    assert codes(ledger.append(returned(9, 9)).entry.findings) == {"return-unknown"}
    assert {one.state for one in ledger.story(card(1)).pieces} == {State.RETURNED}


def test_a_return_taken_back_opens_the_piece_again(ledger: Ledger) -> None:
    ledger.append(pair(1, 1))
    ledger.append(returned(1, 1))
    assert codes(ledger.append(void(1)).entry.findings) == {"void-of-returned"}
    assert ledger.append(void(2)).is_as_offered
    assert [piece.state for piece in ledger.pieces()] == [State.OPEN]
    assert ledger.append(returned(1, 1)).is_as_offered


def test_a_card_without_a_number_comes_back_by_its_article(ledger: Ledger) -> None:
    ledger.append(replace(pair(1, None), article="EE876543216CA", written="EE876543216CA"))
    back = ledger.append(replace(returned(1), card=None, written="EE876543216CA"))
    assert back.is_as_offered
    assert back.entry.refers == 1


def test_a_key_gives_the_first_entry_again(ledger: Ledger) -> None:
    first = ledger.append(pair(1, 1, key="kiosk-1"))
    again = ledger.append(pair(1, 1, key="kiosk-1"))
    assert again.is_repeated
    assert again.entry == first.entry
    assert again.may_seal
    stopped = ledger.append(pair(1, 2, key="kiosk-2"))
    assert ledger.append(pair(1, 2, key="kiosk-2")).entry == stopped.entry
    assert ledger.size() == 2


def test_a_key_of_a_piece_that_was_voided_does_not_seal(ledger: Ledger) -> None:
    first = ledger.append(pair(1, 1, key="kiosk-1"))
    ledger.append(void(1))
    again = ledger.append(pair(1, 1, key="kiosk-1"))
    assert again.entry == first.entry
    assert again.is_void
    assert not again.may_seal


def test_a_key_never_answers_for_another_piece(ledger: Ledger) -> None:
    ledger.append(pair(1, 1, key="kiosk-1"))
    with pytest.raises(KeyReused, match="kiosk-1"):
        ledger.append(pair(2, 2, key="kiosk-1"))
    assert ledger.append(pair(2, 2, key="kiosk-2")).may_seal


def test_a_clock_set_back_is_noticed_and_the_order_stays(ledger: Ledger, clock: Clock) -> None:
    ledger.append(pair(1, 1))
    clock.now -= timedelta(days=1)
    assert codes(ledger.warnings()) == {"clock-set-back"}
    late = ledger.append(pair(2, 2))
    assert late.may_seal
    assert codes(late.entry.findings) == {"clock-set-back"}
    assert [one.sequence for one in ledger.entries()] == [1, 2]
    assert ledger.verify().is_clean
    assert ledger.append(pair(3, 3)).entry.findings == ()


def test_clocks_of_desks_may_differ_a_little(ledger: Ledger, clock: Clock) -> None:
    ledger.append(pair(1, 1))
    clock.now -= timedelta(seconds=4)
    assert ledger.append(pair(2, 2)).entry.findings == ()


def test_each_day_gets_a_signed_head(ledger: Ledger, clock: Clock) -> None:
    for day in range(3):
        for number in range(4):
            ledger.append(pair(10 * day + number, 10 * day + number))
        clock.now += timedelta(days=1)
    report = ledger.verify()
    assert report.is_clean
    assert report.heads == 2  # the third day is not over
    head = ledger.sign_head()
    assert head is not None
    assert head.is_genuine
    # Twelve pieces, and the first use of the key that signed.
    assert (head.size, head.root) == (13, report.root)
    assert ledger.verify().heads == 3


def test_strange_texts_are_recorded_and_stay_verifiable(ledger: Ledger) -> None:
    text = 'a "b" \\ \x00 \ud800 \u2028 é \U0001f600 ,"kind":"paired",'
    ledger.append(Draft(kind=Kind.NOTE, desk=text, operator=text, remark=text, written=text))
    ledger.append(pair(1, 1, remark=text, key=text))
    ledger.append(pair(2, 2, operator='"key":"x"'))
    assert ledger.verify().is_clean
    (found, *_) = ledger.entries()
    assert found.remark == text.replace("\x00", "\ufffd").replace("\ud800", "\ufffd")
    assert ledger.append(pair(1, 1, remark=text, key=text)).is_repeated


def test_the_ledgers_place() -> None:
    assert ledger_url("x.db", {"COUNTERFOIL_LEDGER": "y.db"}) == "x.db"
    assert ledger_url(None, {"COUNTERFOIL_LEDGER": "y.db"}) == "y.db"
    assert Path(ledger_url(None, {})).name == "ledger.sqlite3"

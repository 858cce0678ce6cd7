"""Cards that came back: each finding for itself, hints that stay hints, and what is recorded."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.compare import CopyError
from pairing.desk import nearby
from pairing.desk.card_session import CardAnswer, CardSession, ReadCard
from pairing.desk.for_whom import SIGNED_BY as NAME
from pairing.desk.outstanding import CAUTION, Outstanding, csv_lines, outstanding
from pairing.desk.phrases import worded
from pairing.desk.returns import CardResult, take_back
from pairing.ledger import Draft, Kind, Ledger, State
from pairing.model import How, Side, Verdict
from pairing.numbers import is_number
from tests.ledger.making import Clock, card, label, pair, void

PACKAGE = "9374890100000003985039"  # BCOCA Reference, IMpb example
CARD = "9590940258780038231151"  # NC DEQ public record NOV-2020-DV-0495
SWAPPED = "9590940258780083231151"  # the same, two digits swapped; passes mod-10
S10 = "EE876543216CA"  # UPU S10-12 Annex A
START = datetime(2026, 3, 2, 12, tzinfo=UTC)


@pytest.fixture
def clock() -> Clock:
    return Clock(now=START)


@pytest.fixture
def ledger(tmp_path: Path, clock: Clock) -> Iterator[Ledger]:
    """A ledger with one accepted piece, 20 days ago."""
    with Ledger.open(str(tmp_path / "ledger.db"), clock=clock) as opened:
        opened.append(mailed(PACKAGE, CARD))
        clock.now += timedelta(days=20)
        yield opened


def mailed(article: str, with_card: str | None) -> Draft:
    return replace(pair(0, 0), article=article, written=article, card=with_card, readings=())


def back(ledger: Ledger, *lines: str, **more: Any) -> CardResult:
    """What becomes of the one card that the lines are about; signed and dated, unless a line
    says otherwise."""
    if not any(line.startswith(("signed", "unsigned", "unsaid")) for line in lines):
        lines += ("signed 2026-03-12",)
    lines = tuple(line for line in lines if line != "unsaid")
    tray = CardSession()
    cards = [one for line in lines for one in tray.take(line).cards] + list(tray.close().cards)
    (read,) = cards
    words: dict[str, Any] = {"desk": "d", "operator": "o", "today": date(2026, 3, 22)}
    return take_back(ledger, read, **words | {"zone": UTC} | more)


def said_of(answer: CardAnswer) -> str:
    """What was said of a line, in words."""
    heard = [
        " ".join(["" if one.counts else "not counted", *(each.message for each in one.findings)])
        for one in answer.heard
    ]
    return " ".join([*heard, *map(worded, answer.remarks)])


def codes(result: CardResult) -> set[str]:
    return {finding.code for finding in result.findings}


def test_a_card_whose_box_agrees(ledger: Ledger) -> None:
    result = back(ledger, CARD, f"box {PACKAGE}", "signed 2026-03-10", "name Isaura Penbrook")
    assert result.verdict is Verdict.AGREES
    assert result.piece is not None
    assert result.piece.state is State.RETURNED
    assert (result.days, result.days_to_signature) == (20, 8)
    assert result.outcome is not None
    entry = result.outcome.entry
    assert (entry.kind, entry.refers, entry.card, entry.written) == (
        Kind.RETURNED,
        1,
        CARD,
        PACKAGE,
    )
    assert entry.remark == "2026-03-10"
    assert ledger.particulars(entry.sequence) == {NAME: "Isaura Penbrook"}
    assert len(entry.commitment) == 64
    assert b"Penbrook" not in b"".join(ledger.export_lines())
    assert ledger.forget(CARD, desk="d", operator="o") == 1
    assert ledger.particulars(entry.sequence) is None
    assert ledger.verify().is_clean


@pytest.mark.parametrize("lines", [("strip", PACKAGE), (f"strip ]C1{PACKAGE}",)])
def test_the_strip_in_the_box_can_be_scanned(ledger: Ledger, lines: tuple[str, ...]) -> None:
    result = back(ledger, CARD, *lines)
    assert result.verdict is Verdict.AGREES
    assert result.outcome is not None
    assert [one.how for one in result.outcome.entry.readings if one.side is Side.BOX] == [
        How.BARCODE
    ]


def test_an_article_scanned_without_a_word_is_never_the_box(ledger: Ledger) -> None:
    """The sender keeps a receipt with the same barcode; scanning that proves nothing."""
    result = back(ledger, CARD, PACKAGE)
    assert result.verdict is Verdict.UNREAD
    assert result.written is None
    assert "box-unread" in codes(result)


def test_an_unknown_card_with_hints_that_stay_hints(ledger: Ledger) -> None:
    result = back(ledger, SWAPPED, f"box {PACKAGE}")
    assert result.verdict is Verdict.UNREAD
    assert "return-unknown" in codes(result)
    assert result.piece is None
    (hint,) = result.hints
    assert (hint.number, hint.comparison.error) == (CARD, CopyError.ADJACENT_SWAP)
    assert [piece.article for piece in result.elsewhere] == [PACKAGE]
    # Nothing was accepted for another: the piece is still waiting for its card.
    assert next(iter(ledger.pieces())).state is State.OPEN
    assert result.outcome is not None
    assert result.outcome.entry.refers is None


def test_a_card_number_keyed_one_digit_off_is_not_recorded(ledger: Ledger) -> None:
    size = ledger.size()
    result = back(ledger, f"card {CARD[:9]}9{CARD[10:]}", f"box {PACKAGE}")
    assert result.verdict is Verdict.UNREAD
    assert result.outcome is None
    assert ledger.size() == size
    assert [(one.number, one.comparison.error) for one in result.hints] == [
        (CARD, CopyError.ONE_DIGIT)
    ]


@pytest.mark.parametrize(
    ("text", "error"),
    [
        (CARD[:5] + CARD[6:], CopyError.DROPPED),
        (CARD[:5] + "7" + CARD[5:], CopyError.EXTRA),
        (CARD[:8] + CARD[10] + CARD[9] + CARD[8] + CARD[11:], CopyError.JUMP_SWAP),
        (CARD[:-1] + "2", CopyError.ONE_DIGIT),
    ],
)
def test_slips_are_found_and_named(ledger: Ledger, text: str, error: CopyError) -> None:
    assert error in [one.comparison.error for one in nearby.near(ledger, text)]


def test_two_slips_are_no_near_miss(ledger: Ledger) -> None:
    assert nearby.near(ledger, CARD[:4] + "11" + CARD[6:]) == ()
    assert nearby.near(ledger, "") == ()
    assert nearby.near(ledger, "9" * 5000) == ()


def test_a_second_return(ledger: Ledger) -> None:
    back(ledger, CARD, f"box {PACKAGE}")
    """The same card scanned twice is one card; one whose box says something else is not."""
    same = back(ledger, CARD, f"box {PACKAGE}")
    assert same.verdict is Verdict.AGREES
    assert "return-same" in codes(same)
    other = back(ledger, CARD, f"box {label(7)}")
    assert other.verdict is Verdict.DIFFERS
    assert "return-again" in codes(other)


def test_a_card_not_read_to_the_end_can_be_read_again(ledger: Ledger) -> None:
    assert back(ledger, CARD).verdict is Verdict.UNREAD
    result = back(ledger, CARD, f"box {PACKAGE}")
    assert result.verdict is Verdict.AGREES
    assert "return-read-again" in codes(result)
    assert "return-same" in codes(back(ledger, CARD, f"box {PACKAGE}"))


def test_the_card_of_a_voided_piece(ledger: Ledger) -> None:
    ledger.append(void(1))
    result = back(ledger, CARD, f"box {PACKAGE}")
    assert result.verdict is Verdict.DIFFERS
    assert "return-of-void" in codes(result)
    assert next(iter(ledger.pieces())).state is State.VOID


def test_a_box_that_names_another_article(ledger: Ledger) -> None:
    ledger.append(pair(7, 7))
    result = back(ledger, CARD, f"box {label(7)}")
    assert result.verdict is Verdict.DIFFERS
    assert "return-names-another" in codes(result)
    assert [piece.card for piece in result.elsewhere] == [card(7)]


def test_a_box_with_a_digit_missing_differs_and_is_not_unread(ledger: Ledger) -> None:
    result = back(ledger, CARD, f"box {PACKAGE[:-1]}")
    assert result.verdict is Verdict.DIFFERS
    assert result.written == PACKAGE[:-1]


def test_a_box_with_the_cards_own_number(ledger: Ledger) -> None:
    assert back(ledger, CARD, f"box {CARD}").verdict is Verdict.DIFFERS


def test_a_box_read_in_two_ways_is_not_read(ledger: Ledger) -> None:
    result = back(ledger, CARD, f"box {PACKAGE}", f"strip {label(1)}")
    assert result.verdict is Verdict.UNREAD
    assert result.written is None


def test_a_box_with_letters_for_digits_is_not_read(ledger: Ledger) -> None:
    result = back(ledger, CARD, f"box {PACKAGE[:4]}O{PACKAGE[5:]}")
    assert result.verdict is Verdict.UNREAD


@pytest.mark.parametrize(
    ("signed", "code"),
    [("2026-03-23", "signed-in-future"), ("2026-03-01", "signed-before-mailing")],
)
def test_dates_that_cannot_be(ledger: Ledger, signed: str, code: str) -> None:
    result = back(ledger, CARD, f"box {PACKAGE}", f"signed {signed}")
    assert result.verdict is Verdict.UNREAD
    assert code in codes(result)
    # Read again, the date can be set right.
    good = back(ledger, CARD, f"box {PACKAGE}", "signed 2026-03-05")
    assert good.verdict is Verdict.AGREES


def test_the_days_are_those_of_the_desk(ledger: Ledger) -> None:
    """Mailed at 12:00 UTC on 2 March: at UTC+14 that is the 3rd already."""
    from datetime import timezone

    east = timezone(timedelta(hours=14))
    result = back(ledger, CARD, f"box {PACKAGE}", "signed 2026-03-02", zone=east)
    assert "signed-before-mailing" in codes(result)


@pytest.mark.parametrize("own", [CARD[:-1] + "2", CARD[:-3]])
def test_a_card_with_a_number_of_its_own_is_no_cn07(ledger: Ledger, own: str) -> None:
    """Its own number was read wrongly or cut short: that its box names an article abroad, whose
    card has none, does not make it that article's card."""
    ledger.append(mailed(S10, None))
    result = back(ledger, f"card {own}", f"box {S10}")
    assert result.verdict is Verdict.UNREAD
    assert result.piece is None


def test_cards_without_a_number_go_by_their_article(ledger: Ledger) -> None:
    # CN 07: made out at the office of origin, without a number of its own (handbook, 5).
    ledger.append(mailed(S10, None))
    result = back(ledger, f"box {S10}", "signed 2026-03-22")
    assert result.verdict is Verdict.AGREES
    assert result.piece is not None
    assert result.piece.article == S10
    again = back(ledger, f"box {S10}", "signed 2026-03-22")
    assert "return-same" in codes(again)


def test_a_box_alone_does_not_tell_the_card(ledger: Ledger) -> None:
    """A card with a number of its own goes by that, or its box would vouch for itself."""
    size = ledger.size()
    result = back(ledger, f"box {PACKAGE}")
    assert result.verdict is Verdict.UNREAD
    assert result.outcome is None
    assert ledger.size() == size
    assert [piece.article for piece in result.elsewhere] == [PACKAGE]


def test_a_corrected_piece_is_held_against_its_new_numbers(ledger: Ledger) -> None:
    other = card(5)
    ledger.append(replace(mailed(PACKAGE, other), kind=Kind.CORRECTED, refers=1))
    assert "return-unknown" in codes(back(ledger, CARD, f"box {PACKAGE}"))
    assert back(ledger, other, f"box {PACKAGE}").verdict is Verdict.AGREES


def test_a_piece_whose_card_came_back_takes_no_other_numbers(ledger: Ledger) -> None:
    # The box said the label's number as it was then: with another it would not agree.
    assert back(ledger, CARD, f"box {PACKAGE}").verdict is Verdict.AGREES
    other = replace(mailed(label(1), CARD), kind=Kind.CORRECTED, refers=1)
    outcome = ledger.append(other)
    assert (outcome.is_as_offered, outcome.entry.kind) == (False, Kind.NOTE)
    assert {one.code for one in outcome.entry.findings} == {"correction-of-returned"}
    (piece,) = ledger.pieces()
    assert (piece.article, piece.card) == (PACKAGE, CARD)
    assert ledger.append(void(2)).is_as_offered
    assert ledger.append(other).is_as_offered
    assert back(ledger, CARD, f"box {PACKAGE}").verdict is Verdict.DIFFERS


def test_photos_are_named_by_their_hash(ledger: Ledger) -> None:
    tray = CardSession()
    tray.take(CARD)
    (read,) = tray.close().cards
    digest = "ab" * 32
    result = take_back(
        ledger,
        replace(read, photos={"scan": digest}),
        desk="d",
        operator="o",
        today=date(2026, 3, 22),
    )
    assert result.outcome is not None
    (reading,) = result.outcome.entry.readings
    assert (reading.via.value, reading.photo_sha256) == ("photo", digest)


@given(st.lists(st.integers(0, 9), min_size=22, max_size=22), st.data())
def test_every_single_slip_of_a_valid_number_is_among_the_candidates(
    digits: list[int], data: st.DataObject
) -> None:
    """Held against a slip made another way round: on a list, at a place drawn by the test."""
    number = "".join(map(str, digits))
    place = data.draw(st.integers(0, 20))
    slip = list(number)
    match data.draw(st.sampled_from(["digit", "swap", "jump", "drop", "extra"])):
        case "digit":
            slip[place] = data.draw(st.sampled_from("0123456789"))
        case "swap":
            slip[place : place + 2] = reversed(slip[place : place + 2])
        case "jump":
            place = min(place, 19)
            slip[place], slip[place + 2] = slip[place + 2], slip[place]
        case "drop":
            del slip[place]
        case _:
            slip.insert(place, data.draw(st.sampled_from("0123456789")))
    assert number in set(nearby._slips("".join(slip))) or "".join(slip) == number


# Lines


def test_cards_follow_each_other_by_scans_alone() -> None:
    tray = CardSession()
    done: list[ReadCard] = []
    for line in (CARD, f"box {PACKAGE}", SWAPPED, card(3), "", "", f"strip {PACKAGE}"):
        done += tray.take(line).cards
    done += tray.close().cards
    assert [len(one.readings) for one in done] == [2, 1, 1, 1]


def test_the_same_scan_twice_is_one_card() -> None:
    tray = CardSession()
    assert not tray.take(CARD).cards
    answer = tray.take(CARD)
    assert not answer.cards
    assert "twice" in said_of(answer)
    assert len(tray.close().cards) == 1


def test_a_scan_that_came_out_wrong_is_forgotten_once_the_whole_came() -> None:
    tray = CardSession()
    tray.take(f"card {CARD[:-1]}9")
    tray.take(CARD)
    (read,) = tray.close().cards
    assert [one.number.text for one in read.readings] == [CARD]


def test_what_was_said_of_a_card_is_not_given_to_the_next(ledger: Ledger) -> None:
    wrong = f"{CARD[:-1]}9"
    tray = CardSession()
    done: list[ReadCard] = []
    for line in (wrong, "signed 2026-03-10", "name Isaura Penbrook", card(3), f"box {PACKAGE}"):
        done += tray.take(line).cards
    done += tray.close().cards
    assert [one.name for one in done] == ["Isaura Penbrook", ""]
    assert [one.signed is None for one in done] == [False, True]
    assert [one.number.text for one in done[1].readings] == [card(3), PACKAGE]
    # A scan that was cut short is the same card's.
    assert back(ledger, CARD[:-6], f"box {PACKAGE}", CARD).verdict is Verdict.AGREES


def test_what_is_said_of_a_line_never_has_its_digits() -> None:
    """The box is to be read before any number is seen."""
    tray = CardSession()
    for line in (CARD, f"box {PACKAGE}", f"strip {PACKAGE}", CARD, PACKAGE, "strip"):
        said = said_of(tray.take(line)).replace(" ", "")
        assert PACKAGE[:8] not in said
        assert CARD[:8] not in said


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("signed 10/03/2026", "not a date"),
        ("signed", "without a date"),
        ("box", "after the word"),
        (PACKAGE, "not a card's own number"),
        ("strip", "Scan the strip"),
        ("9590", "not counted"),
        ("hello", "not counted"),
    ],
)
def test_lines_that_do_not_count_are_said(line: str, said: str) -> None:
    tray = CardSession()
    answer = tray.take(line)
    assert not answer.cards
    assert said in said_of(answer)
    assert not tray.close().cards


@given(st.lists(st.one_of(st.text(max_size=60), st.sampled_from([CARD, PACKAGE, "next", "box"]))))
def test_no_line_makes_it_fall_over(lines: list[str]) -> None:
    tray = CardSession()
    for line in lines:
        for one in tray.take(line).cards:
            assert one.readings
    tray.close()


def test_a_date_without_a_card_is_said() -> None:
    tray = CardSession()
    tray.take("signed 2026-03-10")
    answer = tray.take("")
    assert not answer.cards
    assert "no card" in said_of(answer)
    tray.take(CARD)
    (read,) = tray.close().cards
    assert read.signed is None


# Outstanding


def listed(ledger: Ledger, **more: Any) -> list[Outstanding]:
    words: dict[str, Any] = {"now": START + timedelta(days=100), "zone": UTC}
    return list(outstanding(ledger, **words | more))


def test_what_has_not_come_back_is_listed_oldest_first(ledger: Ledger, clock: Clock) -> None:
    ledger.append(pair(1, 1))  # 20 days later
    ledger.append(pair(2, 2, desk="south"))
    ledger.append(pair(3, 3))
    ledger.append(void(5))  # 3 is the note of the key that signed
    back(ledger, card(1), f"box {label(1)}")
    found = listed(ledger)
    assert [one.piece.article for one in found] == [PACKAGE, label(2)]
    assert [one.days for one in found] == [100, 80]
    # A day counts from midnight, whatever the hour: 12:00 on the 2nd is 100 days before.
    late = START + timedelta(days=100, hours=-11)
    assert len(list(outstanding(ledger, now=late, least_days=100, zone=UTC))) == 1
    assert [one.piece.article for one in listed(ledger, least_days=90)] == [PACKAGE]
    assert [one.piece.article for one in listed(ledger, desk="south")] == [label(2)]
    assert listed(ledger, least_days=101) == []


def test_the_dates_that_matter(ledger: Ledger) -> None:
    ledger.append(mailed(S10, None))
    first, second = listed(ledger)
    assert first.sealed == date(2026, 3, 2)
    # PS Form 3811-A: within 90 days by a third-party page (handbook, 2.4).
    assert first.inquire_by == date(2026, 5, 31)
    # P109 2-8: unique for two years. UPU S10: not used again within 12 months.
    assert first.free_from == date(2028, 3, 2)
    assert second.inquire_by is None
    assert second.free_from == date(2027, 3, 22)
    assert listed(ledger, inquiry_days=60)[0].inquire_by == date(2026, 5, 1)
    assert "operator" in CAUTION


def test_the_csv_of_what_is_outstanding(ledger: Ledger) -> None:
    ledger.append(pair(1, 1, desk="+desk", operator="@clerk"))
    heading, first, second = csv_lines(iter(listed(ledger)))
    assert heading.startswith("entry,sealed,days,article,card")
    assert ",9374 8901 0000 0003 9850 39," in first
    assert ",'+desk,'@clerk," in second
    assert is_number(first.split(",")[3])

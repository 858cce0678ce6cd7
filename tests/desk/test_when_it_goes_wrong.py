"""Slips at the counter, and the step that each of them leads to.

The slips are those of the seed's desk (a tired clerk, common practice, no source); that a code and
not a sentence is checked keeps the wording free.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pairing.desk.answers import Advice, Answer, Finished
from pairing.desk.card_session import CardSession
from pairing.desk.counter import Counter
from pairing.desk.phrases import worded
from pairing.desk.remarks import Remark, Say
from pairing.desk.unsettled import unsettled
from pairing.desk.words import Arrived
from pairing.ledger import Draft, Kind, Ledger
from pairing.model import Side
from tests.ledger.making import card, label

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


class Ticks:
    """A stopwatch on which every look takes five seconds."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        self.now_s += 5
        return self.now_s


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with Ledger.open(str(tmp_path / "ledger.db"), clock=lambda: NOON) as opened:
        yield opened


@pytest.fixture
def make(ledger: Ledger) -> Callable[..., Counter]:
    def made(**how: object) -> Counter:
        words = {"desk": "desk 1", "operator": "Theda Orrick", "is_live": True, "ticks": Ticks()}
        return Counter(ledger, clock=lambda: NOON, **{**words, **how})  # type: ignore[arg-type]

    return made


@pytest.fixture
def desk(make: Callable[..., Counter]) -> Counter:
    return make()


def scan(desk: Counter, *texts: str) -> Answer:
    answers = [desk.take(text, arrived=Arrived.SCANNED) for text in texts]
    return answers[-1]


def keyed(desk: Counter, *lines: str) -> Answer:
    answers = [desk.take(line, arrived=Arrived.TYPED) for line in lines]
    return answers[-1]


def said(answer: Answer) -> list[Say]:
    return [one.code for one in answer.remarks]


def piece(desk: Counter, number: int, box: int | None = None) -> Finished:
    scan(desk, label(number), card(number))
    return keyed(desk, f"/{label(number if box is None else box)}").finished[0]


def grouped(text: str) -> str:
    return " ".join(text[at : at + 4] for at in range(0, len(text), 4))


# Stopped pieces are listed until they are settled


def open_stops(ledger: Ledger) -> list[int]:
    return [one.sequence for one in unsettled(ledger, since=None)]


def test_a_stop_is_open_until_its_label_is_sealed(desk: Counter, ledger: Ledger) -> None:
    piece(desk, 1, box=2)
    assert open_stops(ledger) == [1]
    keyed(desk, "again")
    piece(desk, 1, box=3)  # stopped once more: one piece, its last stop
    assert open_stops(ledger) == [2]
    keyed(desk, "again")
    assert piece(desk, 1).advice is Advice.SEAL
    assert open_stops(ledger) == []


def test_a_stop_stays_open_though_its_card_goes_out_with_another_label(
    desk: Counter, ledger: Ledger
) -> None:
    piece(desk, 1, box=2)
    keyed(desk, "aside")
    scan(desk, label(5), card(1))
    assert keyed(desk, f"/{label(5)}").finished[0].advice is Advice.SEAL
    assert open_stops(ledger) == [1]


def test_a_piece_that_is_sealed_already_is_done_and_not_held(desk: Counter, ledger: Ledger) -> None:
    piece(desk, 1)
    again = piece(desk, 1)
    assert again.advice is Advice.DONE_ALREADY
    assert not desk.is_stopped
    assert open_stops(ledger) == []


def test_a_word_settles_what_ends_otherwise(desk: Counter, ledger: Ledger) -> None:
    piece(desk, 1, box=2)
    keyed(desk, "aside")
    assert said(keyed(desk, "settled 1")) == [Say.SETTLE_HOW]
    assert said(keyed(desk, "settled 9 spoiled")) == [Say.NO_ENTRY]
    done = keyed(desk, f"settled {grouped(label(1))} given back to the sender").recorded
    assert done is not None
    assert (done.entry.kind, done.entry.refers) == (Kind.NOTE, 1)
    assert done.entry.remark == "given back to the sender"
    assert done.entry.operator == "Theda Orrick"
    assert open_stops(ledger) == []


def test_the_end_asks_after_open_stops_of_this_desk(
    desk: Counter, make: Callable[..., Counter]
) -> None:
    piece(desk, 1, box=2)
    keyed(desk, "aside")
    answer = keyed(desk, "end")
    assert answer.asks
    assert [one.sequence for one in answer.unsettled] == [1]
    assert said(answer) == [Say.END_ASKED]
    assert said(keyed(desk, "no")) == [Say.NOT_DONE]
    assert keyed(desk, "end").asks
    assert not keyed(desk, "yes").asks
    other = make(desk="desk 2")
    assert not keyed(other, "end").asks
    assert not make(is_live=False).take("end").asks  # a file of lines answers nothing


# A void says which piece it voids


def test_a_void_is_asked_about_and_names_its_piece(desk: Counter, ledger: Ledger) -> None:
    piece(desk, 1)
    answer = keyed(desk, "void 1 wrong envelope")
    assert answer.asks
    assert answer.recorded is None
    assert grouped(label(1)) in worded(answer.remarks[0])
    assert Say.NOT_DONE in said(scan(desk, label(2)))  # whatever else comes leaves it as it is
    assert desk.missing == (Side.CARD, Side.BOX)  # and counts
    assert ledger.size() == 1
    keyed(desk, "again", "void 1 wrong envelope")
    done = keyed(desk, "yes").recorded
    assert done is not None
    assert (done.entry.kind, done.entry.refers) == (Kind.VOIDED, 1)


def test_aside_is_answered_where_nothing_waits(desk: Counter) -> None:
    """As `next` on a piece that is not read says to do."""
    scan(desk, label(1))
    (done,) = keyed(desk, "next").finished
    assert done.advice is Advice.SCAN_AGAIN
    assert said(keyed(desk, "aside")) == [Say.SET_ASIDE]


def test_y_is_yes_where_somebody_typed_it(desk: Counter) -> None:
    piece(desk, 1)
    keyed(desk, "void 1 wrong envelope")
    assert desk.take("y", arrived=Arrived.SCANNED).recorded is None
    keyed(desk, "void 1 wrong envelope")
    done = keyed(desk, "y").recorded
    assert done is not None
    assert done.entry.kind is Kind.VOIDED
    assert not desk.take("y", arrived=Arrived.TYPED).recorded  # where nothing was asked


def test_a_void_takes_a_number_in_its_printed_groups(desk: Counter) -> None:
    piece(desk, 1)
    keyed(desk, f"void {grouped(label(1))} 2 copies were made")
    done = keyed(desk, "yes").recorded
    assert done is not None
    assert (done.entry.refers, done.entry.remark) == (1, "2 copies were made")


def test_a_void_never_shows_the_label_in_hand(desk: Counter) -> None:
    piece(desk, 1)
    scan(desk, label(1))
    answer = keyed(desk, "void 1 wrong envelope")
    assert label(1)[-4:] not in "".join(worded(answer.remarks[0]).split())


# Words for walk-in pieces and for cards without a number


@pytest.fixture
def listed(ledger: Ledger) -> None:
    """A list of today that has piece 1."""
    ledger.append(
        Draft(
            kind=Kind.EXPECTED,
            desk="desk 1",
            operator="o",
            article=label(1),
            card=card(1),
            remark="pairs.csv, line 2",
        )
    )


@pytest.mark.usefixtures("listed")
def test_a_walk_in_piece_is_named_at_its_label_and_sealed_on_an_operators_word(
    desk: Counter,
) -> None:
    assert said(scan(desk, label(7))) == [Say.NOT_LISTED]
    assert said(keyed(desk, "unlisted")) == [Say.UNLISTED_SAID]
    scan(desk, card(7))
    sealed = keyed(desk, f"/{label(7)}").finished[0]
    assert sealed.advice is Advice.SEAL
    assert sealed.entry is not None
    told = [one.message for one in sealed.entry.said if one.code == "unlisted-confirmed"]
    assert told == ["Theda Orrick says that this piece belongs on no list."]


@pytest.mark.usefixtures("listed")
def test_after_the_stop_the_word_judges_the_same_readings_again(desk: Counter) -> None:
    stopped = piece(desk, 7)
    assert stopped.advice is Advice.ASK
    assert desk.is_stopped
    assert keyed(desk, "unlisted").finished[0].advice is Advice.SEAL
    assert not desk.is_stopped


@pytest.mark.usefixtures("listed")
def test_the_word_does_not_help_a_piece_that_differs(desk: Counter) -> None:
    assert piece(desk, 7, box=8).advice is Advice.DO_NOT_SEAL
    assert keyed(desk, "unlisted").finished[0].advice is Advice.DO_NOT_SEAL
    assert desk.is_stopped


@pytest.mark.usefixtures("listed")
def test_a_listed_label_with_another_card_is_not_helped_either(desk: Counter) -> None:
    scan(desk, label(1))
    assert said(keyed(desk, "unlisted")) == [Say.IS_LISTED]
    scan(desk, card(9))
    assert keyed(desk, f"/{label(1)}").finished[0].advice is Advice.DO_NOT_SEAL


def test_a_card_without_a_number_is_sealed_on_an_operators_word(desk: Counter) -> None:
    assert said(keyed(desk, "nonumber")) == [Say.LABEL_FIRST]
    scan(desk, label(1))
    assert said(keyed(desk, f"/{label(1)}")) == [Say.BOX_TOO_EARLY]
    assert said(keyed(desk, "nonumber")) == [Say.NUMBERLESS_SAID]
    sealed = keyed(desk, f"/{label(1)}").finished[0]
    assert sealed.advice is Advice.SEAL
    assert sealed.entry is not None
    assert sealed.entry.card is None
    assert "numberless-confirmed" in {one.code for one in sealed.entry.findings}


def test_where_the_card_has_a_number_after_all_the_word_is_gone(desk: Counter) -> None:
    scan(desk, label(1))
    keyed(desk, "nonumber")
    scan(desk, card(1))
    sealed = keyed(desk, f"/{label(1)}").finished[0]
    assert sealed.entry is not None
    assert sealed.entry.card == card(1)
    assert "numberless-confirmed" not in {one.code for one in sealed.entry.findings}


@pytest.mark.usefixtures("listed")
def test_where_the_list_knows_a_card_the_word_does_not_do(desk: Counter) -> None:
    scan(desk, label(1))
    keyed(desk, "nonumber")
    assert keyed(desk, f"/{label(1)}").finished[0].advice is not Advice.SEAL


# Scans that lost something, strips that nobody announced


@pytest.mark.parametrize("lost", [slice(0, 3), slice(9, 10), slice(7, 12), slice(18, 22)])
def test_a_scan_that_lost_a_stretch_is_forgiven_once_the_whole_one_comes(
    desk: Counter, lost: slice
) -> None:
    whole = label(1)
    part = whole.replace(whole[lost], "", 1) if lost.start else whole[lost.stop :]
    scan(desk, whole[: lost.start] + whole[lost.stop :] or part, whole, card(1))
    assert keyed(desk, f"/{whole}").finished[0].advice is Advice.SEAL


def test_another_labels_scan_that_lost_a_stretch_is_not_forgiven(desk: Counter) -> None:
    other = label(2)
    answer = scan(desk, other[:9] + other[10:], label(1))
    assert [one.advice for one in answer.finished] == [Advice.SCAN_AGAIN]


def test_the_cards_own_bars_after_strip_are_asked_about(desk: Counter) -> None:
    scan(desk, label(1), card(1))
    keyed(desk, "strip")
    assert said(scan(desk, card(1))) == [Say.STRIP_IS_CARD]
    keyed(desk, "strip")
    assert scan(desk, label(1)).finished[0].advice is Advice.SEAL


@pytest.mark.parametrize("order", [(label(1), card(1)), (card(1), label(1))])
def test_a_strip_without_its_word_is_asked_about(desk: Counter, order: tuple[str, str]) -> None:
    scan(desk, *order)
    assert said(scan(desk, label(1))) == [Say.DOUBLE_READ_OR_STRIP]
    keyed(desk, "strip")
    assert scan(desk, label(1)).finished[0].advice is Advice.SEAL


def test_a_wrong_strip_without_its_word_keeps_the_piece(desk: Counter) -> None:
    scan(desk, label(1), card(1))
    assert said(scan(desk, label(2))) == [Say.STRIP_OR_NEXT]
    keyed(desk, "strip")
    assert scan(desk, label(2)).finished[0].advice is Advice.DO_NOT_SEAL


def test_the_next_piece_scanned_too_early_never_seals_with_this_one(desk: Counter) -> None:
    scan(desk, label(1), card(1), label(2))
    answer = scan(desk, card(2))
    assert [one.advice for one in answer.finished] == [Advice.SCAN_AGAIN]
    assert desk.is_stopped


def test_a_scan_behind_a_slash_says_what_to_do(desk: Counter) -> None:
    scan(desk, label(1), card(1))
    assert said(desk.take(f"/{label(1)}", arrived=Arrived.MIXED)) == [Say.NOT_TYPED]
    assert keyed(desk, f"/{label(1)}").finished[0].advice is Advice.SEAL


# Digits keyed without the slash


def test_digits_without_a_slash_wait_for_one_key(desk: Counter) -> None:
    scan(desk, label(1), card(1))
    assert said(keyed(desk, label(1))) == [Say.UNNAMED_KEPT]
    assert keyed(desk, "/").finished[0].advice is Advice.SEAL


def test_kept_digits_wait_for_the_very_next_line_only(desk: Counter) -> None:
    scan(desk, label(1), card(1))
    keyed(desk, label(1), "count")
    assert said(keyed(desk, "/")) == [Say.NUMBER_MISSING]


def test_digits_are_not_kept_before_label_and_card_are_read(desk: Counter) -> None:
    scan(desk, label(1))
    assert said(keyed(desk, label(1))) == [Say.UNNAMED]
    scan(desk, card(1))
    assert said(keyed(desk, "/")) == [Say.NUMBER_MISSING]


def test_what_came_as_evenly_as_from_a_scanner_is_not_kept(desk: Counter) -> None:
    scan(desk, label(1), card(1))
    assert said(desk.take(label(1), arrived=Arrived.EVEN)) == [Say.TOO_EVEN]
    assert said(keyed(desk, "/")) == [Say.NUMBER_MISSING]


# One meaning at each desk


@pytest.mark.parametrize(("text", "day"), [("today", 2), ("yesterday", 1), ("2026-02-28", None)])
def test_a_signature_may_be_of_yesterday(text: str, day: int | None) -> None:
    session = CardSession(today=NOON.date)
    session.take(card(1))
    session.take(f"signed {text}")
    signed = session.close().cards[0].signed
    assert signed is not None
    assert signed.isoformat() == (f"2026-03-0{day}" if day else text)


@pytest.mark.parametrize(
    ("typed", "meant"), [("viod 50 why", "void"), ("hlep", "help"), ("serivce x", "service")]
)
def test_a_misspelled_word_is_asked_about(typed: str, meant: str) -> None:
    said = worded(Remark(code=Say.NO_WORD, text=typed))
    assert f"Did you mean {meant}?" in said
    assert "Did you mean" not in worded(Remark(code=Say.NO_WORD, text="quillhaven"))


def test_a_misspelled_word_through_a_pipe_is_no_scan(desk: Counter) -> None:
    desk.take(label(1), arrived=Arrived.PIPED)
    desk.take(card(1), arrived=Arrived.PIPED)
    assert said(desk.take("viod 1 a slip", arrived=Arrived.PIPED)) == [Say.NO_WORD]
    done = desk.take(f"/{label(1)}", arrived=Arrived.PIPED).finished[0]
    assert done.advice is Advice.SEAL

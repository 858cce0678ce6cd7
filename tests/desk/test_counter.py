"""The counter: entries in, durable verdicts out."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pairing.desk.answers import Advice, Answer, Finished
from pairing.desk.counter import Counter
from pairing.desk.phrases import worded
from pairing.desk.words import Arrived, Word, parse_line
from pairing.errors import LedgerUnusable
from pairing.ledger import Draft, Kind, Ledger, State
from pairing.model import How, Reading, Side, Verdict
from pairing.numbers import printed
from pairing.numbers.recognition import identify

PACKAGE = "9374890100000003985039"  # BCOCA Reference, IMpb example
OTHER = "9400111201080805483016"  # tracking_number_data
CARD = "9590940258780038231151"  # NC DEQ public record NOV-2020-DV-0495
CARD_2 = "9590940258780083231151"  # the same, two digits swapped; passes mod-10
S10 = "EE876543216CA"  # UPU S10-12 Annex A


class Clock:
    """A clock that stands still until it is set."""

    def __init__(self) -> None:
        self.now = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "ledger.db"


@pytest.fixture
def ledger(path: Path, clock: Clock) -> Iterator[Ledger]:
    with Ledger.open(str(path), clock=clock, patience_s=0.1) as opened:
        yield opened


@pytest.fixture
def make(ledger: Ledger, clock: Clock) -> Callable[[], Counter]:
    return lambda: Counter(ledger, desk="desk 1", operator="Theda Orrick", clock=clock)


@pytest.fixture
def counter(make: Callable[[], Counter]) -> Counter:
    return make()


def take(counter: Counter, *lines: str) -> list[Finished]:
    return [piece for line in lines for piece in counter.take(line).finished]


def codes(piece: Finished) -> set[str]:
    return {finding.code for finding in piece.judgment.findings}


def said(answer: Answer) -> str:
    texts = [*map(worded, answer.remarks)]
    texts += [finding.message for one in answer.heard for finding in one.findings]
    for piece in answer.finished:
        texts += [f"{one.message} {one.action}" for one in piece.judgment.findings]
    return " ".join(texts)


@pytest.mark.parametrize("lines", [(PACKAGE, CARD), (CARD, PACKAGE)])
def test_any_order_gives_one_piece_on_the_disk(
    counter: Counter, path: Path, lines: tuple[str, ...]
) -> None:
    (piece,) = take(counter, *lines, f"box {PACKAGE}")
    assert piece.advice is Advice.SEAL
    assert counter.is_idle
    with Ledger.open(str(path)) as another:  # what a second process finds at this moment
        entry = another.entry(1)
    assert entry == piece.entry
    assert entry is not None
    assert (entry.kind, entry.article, entry.card) == (Kind.PAIRED, PACKAGE, CARD)
    assert (entry.desk, entry.operator) == ("desk 1", "Theda Orrick")


def test_what_was_recognized_is_told_without_a_digit_of_the_label(counter: Counter) -> None:
    broken = PACKAGE[:-1] + "8"
    for line in (PACKAGE, PACKAGE, broken, PACKAGE[:-4], CARD, "strip", "box", "next"):
        answer = counter.take(line)
        told = said(answer).replace(" ", "")
        assert told or answer.heard
        assert PACKAGE[4:12] not in told
        assert PACKAGE[-6:-1] not in told
    assert answer.finished[0].is_blind


def test_an_unfinished_piece_of_a_used_label_does_not_tell_its_number(counter: Counter) -> None:
    take(counter, PACKAGE, CARD, f"box {PACKAGE}")
    (piece,) = take(counter, PACKAGE, CARD_2, "next")
    assert "label-used-before" in codes(piece)
    shown = " ".join(finding.message for finding in piece.judgment.findings)
    assert printed(identify(PACKAGE)) not in shown


@pytest.mark.parametrize(
    ("lines", "code"),
    [((PACKAGE, CARD, OTHER), "second-label"), ((CARD, PACKAGE, CARD_2), "second-card"),
     ((PACKAGE, f"box {OTHER}", OTHER), "second-label")],
)  # fmt: skip
def test_a_second_label_or_card_is_said_and_recorded(
    counter: Counter, ledger: Ledger, lines: tuple[str, ...], code: str
) -> None:
    (piece,) = take(counter, *lines)
    assert piece.advice in (Advice.SCAN_AGAIN, Advice.DO_NOT_SEAL)
    assert code in codes(piece)
    entry = ledger.entry(1)
    assert entry is not None
    assert entry.kind is Kind.STOPPED
    assert lines[2] in {one.text for one in entry.readings}
    assert counter.is_idle  # it begins nothing: it is to be scanned again
    (piece,) = take(counter, OTHER, CARD_2, f"box {OTHER}")
    assert piece.advice is Advice.SEAL


def test_a_label_or_card_on_two_pieces_is_stopped(counter: Counter) -> None:
    take(counter, PACKAGE, CARD, f"box {PACKAGE}")
    (piece,) = take(counter, OTHER, CARD, f"box {OTHER}")
    assert (piece.advice, piece.judgment.verdict) == (Advice.DO_NOT_SEAL, Verdict.DIFFERS)
    (piece,) = take(counter, PACKAGE, CARD, f"box {PACKAGE}")
    assert piece.advice is Advice.DONE_ALREADY
    assert "piece-recorded-before" in codes(piece)


def test_a_number_may_be_used_again_after_its_window(counter: Counter, clock: Clock) -> None:
    take(counter, PACKAGE, CARD, f"box {PACKAGE}")
    clock.now += timedelta(days=2 * 366)
    (piece,) = take(counter, PACKAGE, CARD, f"box {PACKAGE}")
    assert piece.advice is Advice.SEAL
    assert "label-reused" in codes(piece)


def test_whose_number_stands_in_the_box_is_named(counter: Counter) -> None:
    take(counter, PACKAGE, CARD, f"box {PACKAGE}")
    (piece,) = take(counter, OTHER, CARD_2, f"box {PACKAGE}")
    assert "box-other-piece" in codes(piece)
    assert "entry 1 of 2026-03-02" in said(Answer(missing=(), finished=(piece,)))


def test_two_counters_have_their_own_piece_in_hand(make: Callable[[], Counter]) -> None:
    one, two = make(), make()
    one.take(PACKAGE)
    two.take(OTHER)
    two.take(CARD_2)
    assert one.missing == (Side.CARD, Side.BOX)
    assert two.missing == (Side.BOX,)
    assert take(one, CARD, f"box {PACKAGE}")[0].advice is Advice.SEAL
    assert take(two, f"box {OTHER}")[0].advice is Advice.SEAL


def test_an_entry_offered_again_is_recorded_once(
    make: Callable[[], Counter], ledger: Ledger
) -> None:
    counter = make()
    lines = {"a": PACKAGE, "b": CARD, "c": f"box {PACKAGE}"}
    answers = [counter.take(line, key=key) for key, line in lines.items()]
    assert [counter.take(line, key=key) for key, line in lines.items()] == answers
    assert counter.is_idle
    restarted = make()  # it knows nothing; the page sends the whole piece once more
    for key, line in lines.items():
        answer = restarted.take(line, key=key)
    assert answer.finished[0].advice is Advice.SEAL
    assert answer.finished[0].outcome is not None
    assert answer.finished[0].outcome.is_repeated
    assert ledger.size() == 1


def test_a_stopped_piece_offered_again_is_recorded_once(
    make: Callable[[], Counter], ledger: Ledger
) -> None:
    for _ in range(2):
        counter = make()
        counter.take(PACKAGE, key="a")
        answer = counter.take(OTHER, key="b")
        assert answer.finished[0].advice is Advice.SCAN_AGAIN
    assert ledger.size() == 1


def test_a_locked_ledger_says_not_recorded_and_goes_on(counter: Counter, path: Path) -> None:
    take(counter, PACKAGE, CARD)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        (piece,) = counter.take(f"box {PACKAGE}", key="k").finished
        assert (piece.advice, piece.judgment.verdict) == (Advice.NOT_RECORDED, Verdict.AGREES)
        assert "locked" in piece.trouble
        assert counter.take("note closed early").trouble
        assert counter.take("handover Osric Dunmallow").trouble
        assert counter.operator == "Theda Orrick"
        (piece,) = counter.take(f"box {PACKAGE}", key="k").finished
        assert piece.advice is Advice.NOT_RECORDED
        assert counter.unrecorded == 1
        other.execute("ROLLBACK")
    (piece,) = counter.take("retry").finished
    assert piece.advice is Advice.SEAL
    assert counter.unrecorded == 0
    assert said(counter.take("retry")) == "Everything is recorded."


def test_the_same_entry_again_records_what_could_not_be(counter: Counter, path: Path) -> None:
    take(counter, PACKAGE, CARD)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        counter.take(f"box {PACKAGE}", key="k")
        other.execute("ROLLBACK")
    (piece,) = counter.take(f"box {PACKAGE}", key="k").finished
    assert piece.advice is Advice.SEAL
    assert counter.take(f"box {PACKAGE}", key="k").finished == (piece,)


def test_a_piece_scanned_anew_is_not_offered_twice(counter: Counter, path: Path) -> None:
    take(counter, PACKAGE, CARD)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        take(counter, f"box {PACKAGE}")
        other.execute("ROLLBACK")
    assert take(counter, PACKAGE, CARD, f"box {PACKAGE}")[0].advice is Advice.SEAL
    assert counter.unrecorded == 0


def test_another_piece_takes_none_that_waits_away(counter: Counter, path: Path) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        take(counter, OTHER, "next", PACKAGE, CARD, f"box {PACKAGE}")
        other.execute("ROLLBACK")
    take(counter, PACKAGE, CARD_2, "next")
    assert counter.unrecorded == 2
    first, second = counter.take("retry").finished
    assert (first.judgment.article, second.advice) == (OTHER, Advice.SEAL)


def test_void_frees_the_numbers(counter: Counter, ledger: Ledger) -> None:
    take(counter, PACKAGE, CARD, f"box {PACKAGE}")
    assert "which and why" in said(counter.take("void"))
    assert "which and why" in said(counter.take("void 1"))
    assert "no entry 9" in said(counter.take("void 9 torn"))
    recorded = counter.take("void 1 torn envelope").recorded
    assert recorded is not None
    assert recorded.is_as_offered
    assert recorded.entry.remark == "torn envelope"
    again = counter.take("void 1 torn envelope").recorded
    assert again is not None
    assert not again.is_as_offered
    assert take(counter, PACKAGE, CARD, f"box {PACKAGE}")[0].advice is Advice.SEAL
    assert counter.take(f"void {CARD} spoiled").recorded is not None
    assert [piece.state for piece in ledger.pieces()] == [State.VOID, State.VOID]


def test_a_slip_of_the_keys_is_corrected_by_reading_all_anew(counter: Counter) -> None:
    slip = PACKAGE[:-2] + "93"
    (piece,) = take(counter, PACKAGE, CARD, f"box {slip}")
    assert piece.advice is Advice.DO_NOT_SEAL
    counter.take("correct")
    assert counter.correcting == 1
    counter.take(PACKAGE)
    assert counter.was_shown  # the screen still has its number
    (piece,) = take(counter, CARD, f"box {PACKAGE}")
    assert piece.advice is Advice.SEAL
    assert piece.corrects == 1
    assert piece.entry is not None
    assert piece.entry.refers == 1
    assert "read-anew" in codes(piece)
    assert counter.correcting is None


def test_an_accepted_piece_is_corrected_by_an_entry_of_its_own(
    counter: Counter, ledger: Ledger
) -> None:
    take(counter, PACKAGE, CARD, f"box {PACKAGE}")
    take(counter, "correct 1")
    (piece,) = take(counter, PACKAGE, CARD_2, f"box {PACKAGE}")
    assert piece.advice is Advice.CORRECTED
    (stands,) = ledger.pieces()
    assert (stands.article, stands.card) == (PACKAGE, CARD_2)
    take(counter, "correct 1")
    (piece,) = take(counter, PACKAGE, CARD_2, f"box {OTHER}")
    assert piece.advice is Advice.DO_NOT_SEAL
    (stands,) = ledger.pieces()
    assert (stands.article, stands.card) == (PACKAGE, CARD_2)


def test_a_correction_can_be_left(counter: Counter) -> None:
    assert "Say which" in said(counter.take("correct"))
    take(counter, PACKAGE, CARD, f"box {PACKAGE}", "correct 1")
    assert said(counter.take("next")) == "Nothing is corrected."
    assert counter.correcting is None
    counter.take(OTHER)
    assert "in hand" in said(counter.take("correct 1"))


def test_hand_over_is_recorded_and_signs_what_follows(counter: Counter, ledger: Ledger) -> None:
    counter.take(PACKAGE)
    assert "in hand" in said(counter.take("handover Osric Dunmallow"))
    take(counter, CARD, f"box {PACKAGE}", "handover Osric Dunmallow", "note scale broken")
    operators = [entry.operator for entry in ledger.entries()]
    assert operators == ["Theda Orrick", "Theda Orrick", "Osric Dunmallow"]
    assert [entry.kind for entry in ledger.entries()] == [Kind.PAIRED, Kind.NOTE, Kind.NOTE]


def test_todays_count(counter: Counter, make: Callable[[], Counter], clock: Clock) -> None:
    take(counter, PACKAGE, CARD, f"box {PACKAGE}", "void 1 torn")
    clock.now += timedelta(days=1)
    take(counter, PACKAGE, CARD, f"box {PACKAGE}", OTHER, "next", OTHER, CARD_2, f"box {PACKAGE}")
    elsewhere = make()
    elsewhere.desk = "desk 2"
    take(elsewhere, OTHER, CARD_2, f"box {OTHER}", "void 7 wet")
    count = counter.take("count").count
    assert count is not None
    assert (count.sealed, count.here, count.voided) == (1, 1, 1)
    assert (count.differs, count.unread) == (1, 1)


def test_a_scan_is_never_a_word() -> None:
    for line in ("void 12 torn", "end", "box 123"):
        assert parse_line(line, Arrived.SCANNED).word is None
        assert parse_line(line, Arrived.TYPED).word is not None
    for word in Word:
        assert parse_line(f"{word}1234").word is None  # a longer word is another word


@pytest.mark.parametrize("number", [PACKAGE, CARD, S10, "70612290000318456600"])
def test_no_number_is_a_word(number: str) -> None:
    for arrived in Arrived:
        assert parse_line(number, arrived).word is None


def test_a_number_typed_without_a_word_counts_for_nothing(counter: Counter) -> None:
    """It may be a label's, from a scanner that is set so slow that it looks like a person."""
    take(counter, PACKAGE, CARD)
    told_of = {
        PACKAGE: "If that is what is written in the box, press /",
        "viod": "not a word",
        "viod 1": "not a word",
    }
    for line, told in told_of.items():
        answer = counter.take(line, arrived=Arrived.TYPED)
        assert told in said(answer)
        assert answer.missing == (Side.BOX,)
    (piece,) = counter.take(f"/{PACKAGE}", arrived=Arrived.TYPED).finished
    assert piece.advice is Advice.SEAL
    assert piece.judgment.written_by is How.KEYED


def test_label_and_card_may_be_keyed(counter: Counter) -> None:
    answer = counter.take(f"label {PACKAGE[:-1]}8")
    assert not answer.heard[0].counts  # a slip of the keys leaves no trace
    assert not counter.take(f"label {CARD}").heard[0].counts
    assert not take(counter, f"label {PACKAGE}", f"card {CARD}", f"box {PACKAGE}")
    (piece,) = take(counter, "confirm the bars are torn")
    assert piece.advice is Advice.SEAL
    assert {"label-keyed", "card-keyed", "label-confirmed"} <= codes(piece)
    assert piece.entry is not None
    assert {one.via.value for one in piece.entry.readings} == {"keyed"}


def test_an_s10_card_without_a_number(counter: Counter) -> None:
    counter.take(S10)
    assert counter.may_lack_card_number
    (piece,) = take(counter, f"box {S10}", "next")
    assert piece.advice is Advice.SEAL


def test_an_expected_pair_speaks_in_the_verdict(counter: Counter, ledger: Ledger) -> None:
    for article, card in ((PACKAGE, CARD), (OTHER, CARD_2)):
        ledger.append(
            Draft(
                kind=Kind.EXPECTED,
                desk="d",
                operator="o",
                article=article,
                card=card,
                remark="pairs.csv",
            )
        )
    (piece,) = take(counter, PACKAGE, CARD_2, f"box {PACKAGE}")
    assert {"expected-other-card", "card-expected-elsewhere"} <= codes(piece)
    assert piece.advice is Advice.DO_NOT_SEAL
    (piece,) = take(counter, S10, f"box {S10}", "next")
    assert "not-expected" in codes(piece)
    (piece,) = take(counter, PACKAGE, CARD, f"box {PACKAGE}")
    assert piece.advice is Advice.SEAL


def test_a_card_that_only_the_list_knows(counter: Counter, ledger: Ledger) -> None:
    """A privately printed card whose number has the form of an article's."""
    ledger.append(Draft(kind=Kind.EXPECTED, desk="d", operator="o", article=PACKAGE, card=OTHER))
    (piece,) = take(counter, OTHER, PACKAGE, f"box {PACKAGE}")
    assert piece.advice is Advice.SEAL
    assert "card-by-list" in codes(piece)
    assert piece.judgment.card == OTHER


def test_an_old_list_is_no_reason_to_doubt(counter: Counter, ledger: Ledger, clock: Clock) -> None:
    ledger.append(Draft(kind=Kind.EXPECTED, desk="d", operator="o", article=OTHER, card=CARD_2))
    clock.now += timedelta(days=3)
    (piece,) = take(counter, PACKAGE, CARD, f"box {PACKAGE}")
    assert piece.advice is Advice.SEAL
    (piece,) = take(counter, OTHER, CARD, f"box {OTHER}")
    assert "expected-other-card" in codes(piece)


def test_a_stop_cannot_be_voided(counter: Counter, ledger: Ledger) -> None:
    take(counter, PACKAGE, "next")
    assert "settled 1 HOW" in said(counter.take("void 1 wrong"))
    assert ledger.size() == 1


def test_a_word_that_was_scanned_or_pasted_does_nothing(counter: Counter, ledger: Ledger) -> None:
    take(counter, PACKAGE, CARD)
    for line in ("void 1 x", "end", f"box {PACKAGE}"):
        answer = counter.take(line, arrived=Arrived.SCANNED)
        assert "too fast" in said(answer)
        assert not answer.finished
    answer = counter.take(f"box {PACKAGE}", arrived=Arrived.MIXED)
    assert "type strip, press Enter, and then scan" in said(answer)
    assert ledger.size() == 0


def test_a_strip_that_was_typed_is_no_scan(counter: Counter, ledger: Ledger) -> None:
    """What a person types is never recorded as read by a scanner."""
    take(counter, PACKAGE, CARD)
    answer = counter.take(f"strip {PACKAGE}", arrived=Arrived.TYPED)
    assert not answer.finished
    assert "was typed" in said(answer)
    assert counter.missing == (Side.BOX,)
    assert ledger.size() == 0


def test_a_label_seen_in_a_doubtful_place_is_not_told_before_the_box(counter: Counter) -> None:
    seen = [
        Reading(side=side, how=How.BARCODE, number=identify(text), source="photo")
        for side, text in ((Side.UNPLACED, PACKAGE), (Side.CARD, CARD))
    ]
    counter.see(seen)
    (piece,) = counter.finish().finished
    told = " ".join(one.message for one in piece.judgment.findings)
    assert "place does not show" in told
    assert piece.is_blind
    assert PACKAGE[-6:] not in told.replace(" ", "")


@pytest.mark.parametrize("is_recorded", [True, False])
def test_a_box_that_says_two_things_does_not_tell_the_label_where_they_differ(
    counter: Counter, ledger: Ledger, monkeypatch: pytest.MonkeyPatch, is_recorded: bool
) -> None:
    """Who reads the box once more must not have heard a digit of the label. Found by the
    generated days: the sentence of a difference was made from a label that was taken out."""
    misread = PACKAGE[:-2] + "07"
    if not is_recorded:

        def fail(_: Draft) -> None:
            raise LedgerUnusable("It is away", where="here", remedy="Wait.")

        monkeypatch.setattr(ledger, "append", fail)
    boxes = (f"box {misread}", f"box {OTHER}")
    (piece,) = take(counter, f"label {PACKAGE}", CARD, *boxes, "confirm the bars are torn")
    assert piece.advice is (Advice.DO_NOT_SEAL if is_recorded else Advice.NOT_RECORDED)
    assert {"box-says-two-things", "box-several-digits"} <= codes(piece)
    assert piece.is_blind
    told = [one.message for one in piece.judgment.findings]
    assert "What was read in the box does not match the label's number." in told
    assert not any("(label" in one for one in told)


def test_a_double_read_of_the_strip_begins_no_piece(counter: Counter) -> None:
    take(counter, PACKAGE, CARD, "strip")
    (piece,) = counter.take(PACKAGE).finished
    assert piece.advice is Advice.SEAL
    assert "once more" in said(counter.take(PACKAGE))
    assert counter.is_idle


def test_a_key_takes_the_announced_strip_back(counter: Counter) -> None:
    take(counter, CARD, PACKAGE, "strip")
    (piece,) = counter.take(f"box {PACKAGE}").finished
    assert piece.advice is Advice.SEAL
    assert piece.judgment.written_by is How.KEYED


def test_one_entry_offered_by_many_threads_is_recorded_once(
    counter: Counter, ledger: Ledger
) -> None:
    take(counter, PACKAGE, CARD)
    with ThreadPoolExecutor(8) as threads:
        answers = list(threads.map(lambda _: counter.take(f"/{PACKAGE}", key="k"), range(40)))
    assert all(answer == answers[0] for answer in answers)
    assert ledger.size() == 1
    assert counter.is_idle


@pytest.mark.parametrize(
    "lines",
    [
        (PACKAGE, CARD, f"box {PACKAGE}"),  # as a label with its verdict
        (OTHER, CARD, f"box {PACKAGE}"),  # in another piece's box
        (f"box {PACKAGE}", "again"),  # keyed, and taken back
        (f"void {PACKAGE} torn",),
        (f"note {printed(identify(PACKAGE))} is torn",),
    ],
)
def test_a_number_that_may_be_on_the_screen_is_known(
    counter: Counter, lines: tuple[str, ...]
) -> None:
    take(counter, *lines)
    assert not counter.was_shown
    counter.take(PACKAGE)
    assert counter.was_shown
    counter.screen_cleared()
    assert not counter.was_shown


def test_a_number_in_a_finding_is_on_the_screen(counter: Counter) -> None:
    take(counter, PACKAGE, CARD, f"box {PACKAGE}")
    counter.screen_cleared()
    take(counter, OTHER, CARD, "next")  # is told with which article the card was used
    counter.take(PACKAGE)
    assert counter.was_shown


def test_what_was_never_shown_needs_no_clearing(counter: Counter) -> None:
    take(counter, PACKAGE, "again", f"label {PACKAGE}", "next", PACKAGE)
    assert not counter.was_shown
    counter.take("again")
    counter.take(S10)
    assert not counter.was_shown
    take(counter, f"box {S10}", "next", S10)
    assert counter.was_shown

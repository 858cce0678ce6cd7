"""A session without a ledger: what is read becomes pieces, as at the counter."""

from __future__ import annotations

import tempfile
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pairing.desk.answers import Answer, Finished
from pairing.desk.book import RunBook
from pairing.desk.counter import Counter
from pairing.desk.phrases import worded
from pairing.desk.remarks import Remark, Say
from pairing.desk.session import Session
from pairing.desk.words import TABLE, Arrived, Word, Work, parse_line
from pairing.ledger import Ledger
from pairing.model import How, Side, Verdict

PACKAGE = "9374890100000003985039"  # BCOCA Reference, IMpb example
OTHER = "9400111201080805483016"  # tracking_number_data
CARD = "9590940258780038231151"  # NC DEQ public record NOV-2020-DV-0495
CARD_2 = "9590940258780083231151"  # the same, two digits swapped; passes mod-10
S10 = "EE876543216CA"  # UPU S10-12 Annex A
NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)


def fresh() -> Session:
    return Session(RunBook(lambda: NOW), clock=lambda: NOW)


def run(*lines: str) -> list[Finished]:
    session = fresh()
    pieces = [piece for line in lines for piece in session.take(line).finished]
    return [*pieces, *session.finish().finished]


def codes(piece: Finished) -> set[str]:
    return {finding.code for finding in piece.judgment.findings}


@pytest.mark.parametrize("lines", [(PACKAGE, CARD), (CARD, PACKAGE)])
def test_label_and_card_come_in_any_order(lines: tuple[str, ...]) -> None:
    (piece,) = run(*lines, f"box {PACKAGE}")
    assert piece.judgment.verdict is Verdict.AGREES
    assert piece.judgment.written_by is How.KEYED


def test_a_second_scan_of_the_label_is_never_the_box() -> None:
    (piece,) = run(PACKAGE, CARD, PACKAGE)
    assert piece.judgment.verdict is Verdict.UNREAD
    assert piece.judgment.written is None


@pytest.mark.parametrize("lines", [("strip", f"]C1{PACKAGE}"), (f"strip {PACKAGE}",)])
def test_an_announced_strip_is_the_box(lines: tuple[str, ...]) -> None:
    (piece,) = run(PACKAGE, CARD, *lines)
    assert piece.judgment.verdict is Verdict.AGREES
    assert piece.judgment.written_by is How.BARCODE


def test_a_double_read_is_dropped_and_said() -> None:
    (piece,) = run(PACKAGE, PACKAGE, CARD, f"box {PACKAGE}")
    assert piece.judgment.verdict is Verdict.AGREES
    assert "double-read" in codes(piece)


def test_pieces_follow_each_other_without_a_blank_line() -> None:
    pieces = run(PACKAGE, CARD, f"box {PACKAGE}", OTHER, CARD_2, f"box {OTHER}")
    assert [piece.judgment.verdict for piece in pieces] == [Verdict.AGREES] * 2
    assert [piece.entry.sequence for piece in pieces if piece.entry] == [1, 2]


def test_exchanged_cards_are_found_by_their_boxes() -> None:
    first, second = run(PACKAGE, CARD, f"box {OTHER}", OTHER, CARD_2, f"box {PACKAGE}")
    assert [p.judgment.verdict for p in (first, second)] == [Verdict.DIFFERS] * 2
    assert "box-other-piece" in codes(second)
    assert "piece 1" in " ".join(one.message for one in second.judgment.findings)


@pytest.mark.parametrize("cut", [PACKAGE[:-2], PACKAGE[3:], PACKAGE[:9] + PACKAGE[10:]])
def test_a_cut_short_scan_is_forgiven_once_the_label_is_read(cut: str) -> None:
    """The last of them lost a digit inside: the clerk did what the message asked."""
    (piece,) = run(cut, PACKAGE, CARD, f"box {PACKAGE}")
    assert piece.judgment.verdict is Verdict.AGREES
    assert "scanned-again" in codes(piece)


@pytest.mark.parametrize("other", [PACKAGE[:-1] + "8", OTHER[:-3], OTHER.replace("0", "O", 1)])
def test_a_refused_scan_of_another_label_is_not_forgiven(other: str) -> None:
    whole = OTHER if other.startswith(PACKAGE[:5]) else PACKAGE
    pieces = run(other, whole, CARD, f"box {whole}")
    assert all(piece.judgment.verdict is Verdict.UNREAD for piece in pieces)
    assert "second-label" in codes(pieces[0])


def test_what_comes_for_the_box_after_the_verdict_counts_for_nothing() -> None:
    (first,) = run(PACKAGE, CARD, f"box {PACKAGE}", f"box {OTHER}")
    assert first.judgment.verdict is Verdict.AGREES


def test_looking_again_can_succeed() -> None:
    for failed in ((PACKAGE,), (PACKAGE, CARD_2), (PACKAGE, CARD, f"box {OTHER}")):
        *_, last = run(*failed, "next", PACKAGE, CARD, f"box {PACKAGE}")
        assert last.judgment.verdict is Verdict.AGREES


def test_the_word_again_starts_the_piece_over() -> None:
    (piece,) = run(OTHER, "again", PACKAGE, CARD, f"box {PACKAGE}")
    assert piece.judgment.verdict is Verdict.AGREES


@pytest.mark.parametrize(
    "strip", [PACKAGE[:5], PACKAGE[:-10], PACKAGE[4:], "9780471117094", "42094043", "ORDER-1"]
)
def test_a_strip_that_was_scanned_badly_is_not_a_difference(strip: str) -> None:
    (piece,) = run(PACKAGE, CARD, f"strip {strip}")
    assert piece.judgment.verdict is Verdict.UNREAD


def test_what_arrived_is_told_without_its_digits() -> None:
    session = fresh()
    for line in (PACKAGE, CARD, PACKAGE[:-1] + "8", "9780471117094", "strip", "box"):
        answer = session.take(line)
        told = [worded(one) for one in answer.remarks]
        told += [one.message for heard in answer.heard for one in heard.findings]
        assert PACKAGE[4:12] not in " ".join(told).replace(" ", "")


def test_many_junk_lines_on_one_piece_stay_quick_enough_to_finish() -> None:
    assert len(run(*(f"junk {n}" for n in range(1000)))) == 1


def test_label_and_card_run_together() -> None:
    (piece,) = run(PACKAGE + CARD, f"box {PACKAGE}")
    assert piece.judgment.verdict is Verdict.AGREES
    assert "run-together" in codes(piece)


def test_strip_and_something_else_run_together_count_for_nothing() -> None:
    (piece,) = run(PACKAGE, CARD, f"strip {PACKAGE}{CARD}")
    assert piece.judgment.verdict is Verdict.UNREAD
    assert "strip-unclear" in codes(piece)


def test_the_card_of_one_piece_on_the_next() -> None:
    _, second = run(PACKAGE, CARD, f"box {PACKAGE}", OTHER, CARD, f"box {OTHER}")
    assert second.judgment.verdict is Verdict.DIFFERS
    assert "card-used-before" in codes(second)


def test_an_s10_item_ends_with_the_word_next() -> None:
    (piece,) = run(S10, f"box {S10}", "next")
    assert piece.judgment.verdict is Verdict.AGREES


def test_what_is_missing_is_told() -> None:
    session = fresh()
    session.take(CARD)
    assert list(session.missing) == [Side.LABEL, Side.BOX]
    session.take(PACKAGE)
    assert list(session.missing) == [Side.BOX]


@pytest.mark.parametrize(
    ("line", "word", "text"),
    [
        ("box 9374 8901", Word.BOX, "9374 8901"),
        ("/9374", Word.BOX, "9374"),
        ("BOX: 9374\r\n", Word.BOX, "9374"),
        ("strip\n", Word.STRIP, ""),
        ("next", Word.NEXT, ""),
        ("\n", Word.NEXT, ""),
        (PACKAGE, None, PACKAGE),
        ("boxes", None, "boxes"),
    ],
)
def test_words_and_scans_cannot_be_confused(line: str, word: Word | None, text: str) -> None:
    found = parse_line(line)
    assert (found.word, found.text) == (word, text)


def test_a_blank_line_ends_a_piece_through_a_pipe_and_not_at_a_terminal() -> None:
    """There Enter may be a scanner's second line end."""
    assert parse_line("\n", Arrived.TYPED).word is None


def test_every_word_is_in_the_table_once_and_every_remark_has_its_words() -> None:
    assert [one.word for one in TABLE] == list(dict.fromkeys(one.word for one in TABLE))
    assert {one.word for one in TABLE} == set(Word)
    for code in Say:
        assert worded(Remark(code=code, side=Side.LABEL, entry=7, count=2, text="what"))


def test_words_about_the_record_do_nothing_without_one() -> None:
    for word in (one.word for one in TABLE if Work.CHECK not in one.used_in):
        (remark,) = fresh().take(f"{word} 1").remarks
        assert remark.code is Say.WORD_ELSEWHERE


@given(st.lists(st.text() | st.sampled_from([PACKAGE, CARD, "box", "strip", "next", ""])))
def test_no_lines_make_it_raise(lines: list[str]) -> None:
    run(*lines)


# One path: check and counter

Seen = tuple[object, ...]


def seen(answers: list[Answer]) -> list[Seen]:
    """What a clerk is told, without what an entry's own name and time are."""
    return [
        (
            answer.missing,
            answer.is_stopped,
            tuple((one.code, one.side) for one in answer.remarks),
            tuple((one.side, one.how, one.counts) for one in answer.heard),
            tuple(
                (one.advice, one.judgment.verdict, one.judgment.written, frozenset(codes(one)))
                for one in answer.finished
            ),
        )
        for answer in answers
    ]


def both(lines: list[str], arrived: Arrived = Arrived.PIPED) -> tuple[list[Seen], list[Seen]]:
    with tempfile.TemporaryDirectory() as folder:
        path = str(Path(folder) / "ledger.db")
        with Ledger.open(path, clock=lambda: NOW) as ledger:
            counter = Counter(ledger, desk="d", operator="o", clock=lambda: NOW)
            session = Session(RunBook(lambda: NOW), operator="o", clock=lambda: NOW)
            return (
                seen([session.take(line, arrived=arrived) for line in lines] + [session.finish()]),
                seen([counter.take(line, arrived=arrived) for line in lines] + [counter.finish()]),
            )


@pytest.mark.parametrize(
    "lines",
    [
        [PACKAGE, CARD, OTHER, CARD_2, f"box {OTHER}"],
        [PACKAGE, CARD, PACKAGE, CARD, f"box {PACKAGE}"],
        [PACKAGE, CARD, f"box {PACKAGE}", f"box {OTHER}"],
        [PACKAGE, CARD, f"/{PACKAGE}", PACKAGE, CARD, f"/{PACKAGE}"],
        [PACKAGE, CARD, f"/{PACKAGE}", OTHER, CARD, f"/{OTHER}", "", OTHER, CARD_2, f"/{OTHER}"],
    ],
)
def test_check_and_counter_answer_the_same_lines_alike(lines: list[str]) -> None:
    checked, counted = both(lines)
    assert checked == counted


_LINES = (
    PACKAGE, OTHER, CARD, CARD_2, S10, PACKAGE[:-2], f"box {PACKAGE}", f"box {OTHER}",
    f"/{CARD}", f"box {S10}", "strip", f"strip {PACKAGE}", f"label {PACKAGE}", f"card {CARD}",
    "confirm torn", "next", "again", "aside", "", "9780471117094", "nonsense",
)  # fmt: skip


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.sampled_from(_LINES), max_size=14), st.sampled_from(Arrived))
def test_check_and_counter_answer_any_lines_alike(lines: list[str], arrived: Arrived) -> None:
    checked, counted = both(lines, arrived)
    assert checked == counted

"""Scans in any order become pieces."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.desk import Tray, TrayPiece
from pairing.desk.entries import EntryKind, parse_entry
from pairing.model import How, Side, Verdict

PACKAGE = "9374890100000003985039"  # BCOCA Reference, IMpb example
OTHER = "9400111201080805483016"  # tracking_number_data
CARD = "9590940258780038231151"  # NC DEQ public record NOV-2020-DV-0495
CARD_2 = "9590940258780083231151"  # the same, two digits swapped; passes mod-10
S10 = "EE876543216CA"  # UPU S10-12 Annex A


def run(*lines: str) -> list[TrayPiece]:
    tray = Tray()
    pieces = [piece for line in lines for piece in tray.take(line)]
    return pieces + list(tray.close())


def codes(piece: TrayPiece) -> set[str]:
    return {finding.code for finding in piece.judgement.findings}


@pytest.mark.parametrize("lines", list(itertools.permutations([PACKAGE, CARD, f"box {PACKAGE}"])))
def test_any_order_gives_one_piece_that_agrees(lines: tuple[str, ...]) -> None:
    (piece,) = run(*lines)
    assert piece.judgement.verdict is Verdict.AGREES
    assert piece.judgement.written_by is How.KEYED


def test_a_second_scan_of_the_label_is_never_the_box() -> None:
    (piece,) = run(PACKAGE, CARD, PACKAGE)
    assert piece.judgement.verdict is Verdict.UNREAD
    assert piece.judgement.written is None


@pytest.mark.parametrize("lines", [("strip", f"]C1{PACKAGE}"), (f"strip {PACKAGE}",)])
def test_an_announced_strip_is_the_box(lines: tuple[str, ...]) -> None:
    (piece,) = run(PACKAGE, CARD, *lines)
    assert piece.judgement.verdict is Verdict.AGREES
    assert piece.judgement.written_by is How.BARCODE


def test_a_double_read_is_dropped_and_said() -> None:
    (piece,) = run(PACKAGE, PACKAGE, CARD, f"box {PACKAGE}")
    assert piece.judgement.verdict is Verdict.AGREES
    assert "double-read" in codes(piece)


def test_pieces_follow_each_other_without_a_blank_line() -> None:
    first, second = run(PACKAGE, CARD, f"box {PACKAGE}", OTHER, CARD_2, f"box {OTHER}")
    assert [p.judgement.verdict for p in (first, second)] == [Verdict.AGREES] * 2
    assert (first.index, second.index) == (1, 2)


def test_a_new_pair_ends_a_piece_whose_box_was_never_read() -> None:
    first, second = run(PACKAGE, CARD, OTHER, CARD_2)
    assert first.judgement.article == PACKAGE
    assert second.judgement.article == OTHER
    assert [p.judgement.verdict for p in (first, second)] == [Verdict.UNREAD] * 2


def test_a_second_label_before_any_card_is_said_not_guessed_at() -> None:
    (piece,) = run(PACKAGE, OTHER, CARD, f"box {PACKAGE}", "next")
    assert piece.judgement.verdict is Verdict.UNREAD
    assert "two-articles" in codes(piece)


def test_exchanged_cards_are_found_by_their_boxes() -> None:
    first, second = run(PACKAGE, CARD, f"box {OTHER}", OTHER, CARD_2, f"box {PACKAGE}")
    assert [p.judgement.verdict for p in (first, second)] == [Verdict.DIFFERS] * 2
    assert "box-other-piece" in codes(second)


def test_a_cut_short_scan_is_forgiven_once_the_label_is_read() -> None:
    (piece,) = run(PACKAGE[:-2], PACKAGE, CARD, f"box {PACKAGE}")
    assert piece.judgement.verdict is Verdict.AGREES
    assert "scanned-again" in codes(piece)


def test_a_bad_label_is_not_forgiven_by_another_number() -> None:
    (piece,) = run(PACKAGE[:-1] + "8", OTHER, CARD, f"box {OTHER}")
    assert piece.judgement.verdict is Verdict.UNREAD


def test_a_cut_short_scan_of_another_label_is_not_forgiven() -> None:
    for other in (OTHER[:-3], OTHER.replace("0", "O", 1)):
        (piece,) = run(other, PACKAGE, CARD, f"box {PACKAGE}")
        assert piece.judgement.verdict is Verdict.UNREAD


def test_what_comes_for_the_box_after_the_verdict_counts_for_the_same_piece() -> None:
    first, again = run(PACKAGE, CARD, f"box {PACKAGE}", f"box {OTHER}")
    assert first.judgement.verdict is Verdict.AGREES
    assert (again.index, again.is_again) == (1, True)
    assert again.judgement.verdict is Verdict.DIFFERS
    first, again = run(PACKAGE, CARD, f"box {PACKAGE}", f"strip {PACKAGE}")
    assert again.judgement.verdict is Verdict.AGREES


def test_after_a_blank_line_the_box_may_come_first() -> None:
    first, second = run(PACKAGE, CARD, f"box {PACKAGE}", "", f"box {OTHER}", OTHER, CARD_2)
    assert [p.judgement.verdict for p in (first, second)] == [Verdict.AGREES] * 2


def test_looking_again_can_succeed() -> None:
    for failed in ((PACKAGE,), (PACKAGE, CARD_2), (PACKAGE, CARD, f"box {OTHER}")):
        *_, last = run(*failed, "next", PACKAGE, CARD, f"box {PACKAGE}")
        assert last.judgement.verdict is Verdict.AGREES


def test_the_word_again_forgets_the_piece_in_hand() -> None:
    (piece,) = run(OTHER, "again", PACKAGE, CARD, f"box {PACKAGE}")
    assert piece.judgement.verdict is Verdict.AGREES


@pytest.mark.parametrize(
    "strip", [PACKAGE[:5], PACKAGE[:-10], PACKAGE[4:], "9780471117094", "42094043", "ORDER-1"]
)
def test_a_strip_that_was_scanned_badly_is_not_a_difference(strip: str) -> None:
    (piece,) = run(PACKAGE, CARD, f"strip {strip}")
    assert piece.judgement.verdict is Verdict.UNREAD


def test_what_arrived_is_told_without_its_digits() -> None:
    tray = Tray()
    for line in (PACKAGE, CARD, PACKAGE[:-1] + "8", "9780471117094", "strip", "box"):
        tray.take(line)
        assert tray.remarks
        assert PACKAGE[4:12] not in " ".join(tray.remarks).replace(" ", "")


def test_many_junk_lines_on_one_piece_stay_quick_enough_to_finish() -> None:
    assert len(run(*(f"junk {n}" for n in range(5000)))) == 1


def test_label_and_card_run_together() -> None:
    (piece,) = run(PACKAGE + CARD, f"box {PACKAGE}")
    assert piece.judgement.verdict is Verdict.AGREES
    assert "run-together" in codes(piece)


def test_strip_and_something_else_run_together_count_for_nothing() -> None:
    (piece,) = run(PACKAGE, CARD, f"strip {PACKAGE}{CARD}")
    assert piece.judgement.verdict is Verdict.UNREAD
    assert "strip-unclear" in codes(piece)


def test_the_card_of_one_piece_on_the_next() -> None:
    _, second = run(PACKAGE, CARD, f"box {PACKAGE}", OTHER, CARD, f"box {OTHER}")
    assert second.judgement.verdict is Verdict.DIFFERS
    assert "card-used-before" in codes(second)


def test_an_s10_item_ends_with_the_word_next() -> None:
    (piece,) = run(S10, f"box {S10}", "next")
    assert piece.judgement.verdict is Verdict.AGREES


def test_what_is_missing_is_told() -> None:
    tray = Tray()
    tray.take(CARD)
    assert tray.missing() == (Side.LABEL, Side.BOX)
    tray.take(PACKAGE)
    assert tray.missing() == (Side.BOX,)


@pytest.mark.parametrize(
    ("line", "kind", "text"),
    [
        ("box 9374 8901", EntryKind.BOX, "9374 8901"),
        ("BOX: 9374\r\n", EntryKind.BOX, "9374"),
        ("strip\n", EntryKind.STRIP, ""),
        ("next", EntryKind.NEXT, ""),
        ("\n", EntryKind.NEXT, ""),
        (PACKAGE, EntryKind.SCAN, PACKAGE),
        ("boxes", EntryKind.SCAN, "boxes"),
    ],
)
def test_words_and_scans_cannot_be_confused(line: str, kind: EntryKind, text: str) -> None:
    entry = parse_entry(line)
    assert (entry.kind, entry.text) == (kind, text)


@given(st.lists(st.text() | st.sampled_from([PACKAGE, CARD, "box", "strip", "next", ""])))
def test_no_lines_make_the_tray_raise(lines: list[str]) -> None:
    run(*lines)

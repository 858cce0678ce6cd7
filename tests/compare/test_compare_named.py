"""Single comparisons: published vectors, whole other numbers, wording, arbitrary text."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum import ean

from pairing.compare import Comparison, CopyError, compare
from pairing.compare.identity import serial_distance
from pairing.compare.kinds import MAX_NUMBER
from pairing.compare.slips import CATCH_ALLS, PRECEDENCE
from tests.compare import oracle

CARD = "9590940258780038231151"  # NC DEQ public record NOV-2020-DV-0495
RETAIL = "70191640000008004105"  # retail Certified label, state agency records
S10 = "EE876543216CA"  # UPU S10-12 Annex A, via zint test_code128.c


def look(label: str, box: str, **around: object) -> Comparison:
    sizes = (2, 3, 3, 3, 2) if oracle.is_s10(label) else (4,)
    return compare(label, box, group_sizes=sizes, is_valid=oracle.is_valid, **around)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("label", "box", "error", "positions", "place"),
    [
        # vectors.csv, adv_adjacent_swap_escapes: derived there from the published card number
        (CARD, "9590490258780038231151", CopyError.ADJACENT_SWAP, (5, 6),
         "group 2, digits 1 and 2"),
        (CARD, "9590940258780083231151", CopyError.ADJACENT_SWAP, (15, 16),
         "group 4, digits 3 and 4"),
        # vectors.csv, adv_group_swap_escapes: derived there from published numbers
        (CARD, "9590587894020038231151", CopyError.GROUP_SWAP, tuple(range(5, 13)),
         "groups 2 and 3"),
        (RETAIL, "70190000164008004105", CopyError.GROUP_SWAP, tuple(range(5, 13)),
         "groups 2 and 3"),
    ],
)  # fmt: skip
def test_published_escapes(
    label: str, box: str, error: CopyError, positions: tuple[int, ...], place: str
) -> None:
    found = look(label, box)
    assert (found.error, found.also, found.positions) == (error, (), positions)
    assert found.place == place
    assert found.passes_check
    assert place in found.message
    assert "would not have caught" in found.message


@pytest.mark.parametrize(
    ("label", "box", "error", "place"),
    [
        (CARD, "9590940258780038231157", CopyError.ONE_DIGIT, "group 6, digit 2"),
        (CARD, "9509940258780038231151", CopyError.ADJACENT_SWAP, "group 1, digits 3 and 4"),
        (CARD, "9599040258780038231151", CopyError.ADJACENT_SWAP,
         "group 1, digit 4 and group 2, digit 1"),
        (CARD, "9590940258783800231151", CopyError.SEVERAL_DIGITS, "group 4"),
        (CARD, "9590940258780038042297", CopyError.SEVERAL_DIGITS, "groups 5 and 6"),
        (CARD, "9590940258780038512311", CopyError.GROUP_SWAP, "groups 5 and 6"),
        (CARD, "5194025878003823119590", CopyError.GROUP_SWAP, "groups 1 and 6"),
        (CARD, "959094025878038231151", CopyError.DROPPED, "group 4, digit 1 (one of the 2 0s)"),
        (CARD, "95909402587800038231151", CopyError.EXTRA,
         "after group 3, digit 4 (one of the 3 0s)"),
        (CARD, "19590940258780038231151", CopyError.EXTRA, "before group 1, digit 1"),
        (CARD, "99590940258780038231151", CopyError.EXTRA,
         "before group 1, digit 1 (one of the 2 9s)"),
        (CARD, "95909402587800382311", CopyError.TRUNCATED, "group 6"),
        (CARD, "8780038231151", CopyError.TRUNCATED, "group 1, digit 1 to group 3, digit 1"),
        (CARD, "9590942587800387231151", CopyError.SHIFTED,
         "group 2, digit 3 to group 4, digit 4"),
        (S10, "EE876543216CB", CopyError.ONE_DIGIT, "group 5, character 2"),
        (S10, "EE876543216AC", CopyError.ADJACENT_SWAP, "group 5"),
        (S10, "EE543876216CA", CopyError.GROUP_SWAP, "groups 2 and 3"),
        (S10, "CA876543216EE", CopyError.GROUP_SWAP, "groups 1 and 5"),
    ],
)  # fmt: skip
def test_error_and_place(label: str, box: str, error: CopyError, place: str) -> None:
    found = look(label, box)
    assert found.error is error
    assert found.place == place


def test_a_missing_digit_is_one_gap_at_the_first_of_its_run() -> None:
    found = look("70191640000008004105", "7019164000008004105")
    gaps = [i for i, column in enumerate(found.columns, 1) if not column.same]
    assert gaps == [8] == list(found.positions)
    assert "one of the 6 0s" in found.message


def test_a_shifted_number_shows_its_two_gaps() -> None:
    found = look(CARD, "9590942587800387231151")
    lone = [(c.label, c.box) for c in found.columns if not c.same]
    assert lone == [("0", None), (None, "7")]


class TestWholeOtherNumbers:
    def test_the_cards_own_number_comes_first(self) -> None:
        found = look(RETAIL, CARD, card=CARD, others=[CARD])
        assert found.error is CopyError.CARD_OWN
        assert found.also == (CopyError.OTHER_PIECE,)
        assert "card's own number" in found.message
        assert "another piece's number" in found.message

    def test_another_piece_that_is_a_neighbor_is_called_both(self) -> None:
        following = "70191640000008004112"
        assert oracle.is_valid(following)
        found = look(RETAIL, following, others={following, RETAIL})
        assert (found.error, found.also) == (CopyError.OTHER_PIECE, (CopyError.PAD_NEIGHBOR,))
        assert "it is also a neighboring number from the same pad" in found.message

    def test_a_carry_still_makes_a_neighbor(self) -> None:
        label, box = (
            s + ean.calc_check_digit(s) for s in ("7019164000000099999", "7019164000000100000")
        )
        found = look(label, box)
        assert found.error is CopyError.PAD_NEIGHBOR
        assert "1 higher" in found.message

    def test_s10_neighbors_share_their_letters(self) -> None:
        serial = "87654322"
        box = f"EE{serial}{oracle.s10_check_digit(serial)}CA"
        assert look(S10, box).error is CopyError.PAD_NEIGHBOR
        assert look(S10, f"EF{box[2:]}").error is CopyError.SEVERAL_DIGITS

    def test_an_invalid_number_is_no_neighbor(self) -> None:
        assert look(RETAIL, "70191640000008004113").error is CopyError.SEVERAL_DIGITS

    def test_eleven_apart_is_no_neighbor(self) -> None:
        serial = str(int(RETAIL[:-1]) + 11)
        box = next(serial + d for d in "0123456789" if oracle.is_valid(serial + d))
        assert look(RETAIL, box).error is CopyError.SEVERAL_DIGITS

    def test_a_slip_that_gives_a_neighbor_is_mentioned(self) -> None:
        # Last digit and check digit 5 apart and swapped: mod-10 misses it (0/5 pair).
        label = next(
            t for t in (f"7019164000000800{i:02}05" for i in range(100)) if oracle.is_valid(t)
        )
        found = look(label, label[:-2] + label[-1] + label[-2])
        assert (found.error, found.also) == (CopyError.PAD_NEIGHBOR, (CopyError.ADJACENT_SWAP,))
        assert "it could as well be two adjacent digits swapped" in found.message


def test_equal_numbers() -> None:
    found = look(CARD, CARD, card=CARD, others={CARD})
    assert found.equal
    assert (found.error, found.also, found.positions, found.place) == (None, (), (), "")
    assert all(column.same for column in found.columns)


def test_the_table_names_every_kind_once_and_catch_alls_last() -> None:
    kinds = [kind for kind, _ in PRECEDENCE]
    assert sorted(kinds) == sorted(CopyError)
    assert set(kinds[-2:]) == CATCH_ALLS


TEXTS = st.one_of(st.text(max_size=40), st.text("0123456789AB", max_size=30))
FORBIDDEN = ("should", "correct", "replace", "overwrite", "change it", "copy", "must", "instead")
"""No sentence may suggest making one side like the other."""


@given(TEXTS, TEXTS, st.lists(st.integers(1, 6), max_size=5), st.booleans())
def test_any_two_texts_get_an_answer(a: str, b: str, sizes: list[int], valid: bool) -> None:
    found = compare(a, b, group_sizes=sizes, is_valid=lambda _: valid, card=b[::-1], others=[a])
    assert found.equal == (a == b != "") == (found.error is None)
    assert "".join(column.label or "" for column in found.columns) == a
    assert "".join(column.box or "" for column in found.columns) == b
    assert all(column.label is not None or column.box is not None for column in found.columns)
    assert all(1 <= position <= len(a) for position in found.positions)
    assert list(found.positions) == sorted(set(found.positions))
    assert bool(found.place) == (not found.equal)


@given(st.text("0123456789", min_size=1, max_size=26), st.text("0123456789", max_size=26))
def test_no_sentence_takes_a_side(a: str, b: str) -> None:
    found = compare(a, b, group_sizes=(4,), is_valid=oracle.is_valid)
    assert not [word for word in FORBIDDEN if word in found.message.lower()]
    assert found.message.endswith(".")
    assert "{" not in found.message


@given(st.text("0123456789", min_size=1, max_size=26))
def test_a_number_equals_itself(a: str) -> None:
    assert compare(a, a, group_sizes=(4,), is_valid=oracle.is_valid).equal


SYMMETRIC = {
    CopyError.ONE_DIGIT, CopyError.ADJACENT_SWAP, CopyError.JUMP_SWAP, CopyError.TWIN,
    CopyError.JUMP_TWIN, CopyError.PHONETIC, CopyError.SHIFTED, CopyError.SEVERAL_DIGITS,
}  # fmt: skip
"""Read backwards these are the same error (a group swap of unequal groups is not)."""


@given(st.text("01235", min_size=8, max_size=8), st.text("01235", min_size=8, max_size=8))
def test_slips_read_backwards_are_the_same_slips(a: str, b: str) -> None:
    there, back = (
        compare(x, y, group_sizes=(9,), is_valid=lambda _: False) for x, y in ((a, b), (b, a))
    )
    assert (there.error, there.also) == (back.error, back.also)
    assert there.error is None or there.error in SYMMETRIC
    assert there.positions == back.positions


def test_a_stuck_key_is_no_obstacle() -> None:
    found = look(CARD, "1" * 20_000)
    assert found.error is CopyError.DIFFERENT
    assert look("1" * 5000, "1" * 4999 + "2").error is CopyError.ONE_DIGIT


def test_groups_are_looked_for_in_texts_no_longer_than_any_number() -> None:
    for extra, error in (("", CopyError.GROUP_SWAP), ("1", CopyError.SEVERAL_DIGITS)):
        one, other = "1234" * (MAX_NUMBER // 8), "5678" * (MAX_NUMBER // 8)
        found = compare(
            one + other + extra,
            other + one + extra,
            group_sizes=(len(one),),
            is_valid=oracle.is_valid,
        )
        assert found.error is error


def test_nothing_is_not_equal_to_nothing() -> None:
    found = compare("", "", group_sizes=(4,), is_valid=oracle.is_valid)
    assert not found.equal
    assert (found.error, found.positions, found.columns) == (CopyError.DIFFERENT, (), ())
    assert found.message == "Neither side has anything on it to compare."
    assert look(CARD, "").error is CopyError.DIFFERENT


def test_only_numbers_of_one_kind_have_a_distance() -> None:
    assert serial_distance("EE876543216CA", "EE876543220CA") == 1
    assert serial_distance("EE876543220CA", "EE876543216CA") == -1
    assert serial_distance("EE876543216CA", "EE876543216US") is None
    assert serial_distance("EE876543216CA", "1234567890123") is None
    assert serial_distance("1234567890123", "EE876543216CA") is None
    assert serial_distance("10", "29") == 1
    assert serial_distance("1", "2") is None
    assert serial_distance("10", "111") is None
    assert serial_distance("7" * MAX_NUMBER, "7" * MAX_NUMBER) == 0
    assert serial_distance("7" * (MAX_NUMBER + 1), "7" * (MAX_NUMBER + 1)) is None


def test_what_travels_with_an_error() -> None:
    label = "9407111201080805483016"
    shifted = label[:4] + label[5:9] + "7" + label[9:]
    found = compare(label, shifted, group_sizes=(4,), is_valid=lambda _: False)
    assert found.error is CopyError.SHIFTED
    assert (found.parameters["lost"], found.parameters["put_in"]) == (7, 9)
    assert (found.parameters["apart"], found.parameters["is_number"]) == (0, False)
    one = compare(label, "8" + label[1:], group_sizes=(4,), is_valid=lambda _: False)
    assert (one.parameters["lost"], one.parameters["put_in"], one.parameters["apart"]) == (0, 0, 0)
    assert one.parameters["group_sizes"] == (4, 4, 4, 4, 4, 2)

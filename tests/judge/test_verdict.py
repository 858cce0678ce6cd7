"""The verdict: what it takes to agree, and that nothing else does."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.findings import Code, Finding, Weight
from pairing.judge import judge
from pairing.judge.sides import SideResult
from pairing.judge.verdict import _verdict as verdict_of
from pairing.model import (
    EarlierUse,
    ExpectedPair,
    How,
    Judgment,
    Quad,
    Reading,
    Side,
    TrackingNumber,
    Verdict,
)
from pairing.numbers import identify
from pairing.wedge import parse_keyed
from tests.numbers import strategies as numbers

PACKAGE = "9374890100000003985039"  # BCOCA Reference, IMpb example
OTHER = "9400111201080805483016"  # tracking_number_data
CARD = "9590940258780038231151"  # NC DEQ public record NOV-2020-DV-0495
S10 = "EE876543216CA"  # UPU S10-12 Annex A


def read(side: Side, text: str, how: How = How.BARCODE, **more: object) -> Reading:
    reading = Reading(side=side, how=how, number=identify(text), source=f"{side}.jpg")
    return replace(reading, **more)  # type: ignore[arg-type]


def keyed_box(text: str) -> Reading:
    scan = parse_keyed(text)
    return Reading(
        side=Side.BOX, how=How.KEYED, number=scan.number, source="keyed", findings=scan.findings
    )


def piece(label: str = PACKAGE, card: str = CARD, box: str = PACKAGE) -> list[Reading]:
    return [read(Side.LABEL, label), read(Side.CARD, card), keyed_box(box)]


def codes(judgment: Judgment) -> set[str]:
    return {finding.code for finding in judgment.findings}


def quad(x: float, y: float) -> Quad:
    return Quad(
        top_left=(x, y),
        top_right=(x + 100, y),
        bottom_right=(x + 100, y + 20),
        bottom_left=(x, y + 20),
    )


def test_a_whole_piece_agrees() -> None:
    judgment = judge(piece())
    assert judgment.verdict is Verdict.AGREES
    assert judgment.verdict.clerk_word == "Seal"
    assert (judgment.article, judgment.card, judgment.written) == (PACKAGE, CARD, PACKAGE)
    assert judgment.written_by is How.KEYED


@pytest.mark.parametrize(
    ("left_out", "code"),
    [(Side.LABEL, "label-unread"), (Side.CARD, "card-unread"), (Side.BOX, "box-unread")],
)
def test_without_any_one_side_it_is_unread_never_differs(left_out: Side, code: str) -> None:
    judgment = judge([reading for reading in piece() if reading.side is not left_out])
    assert judgment.verdict is Verdict.UNREAD
    assert code in codes(judgment)


def test_nothing_read_at_all_is_unread() -> None:
    assert judge([]).verdict is Verdict.UNREAD


@pytest.mark.parametrize(
    ("box", "code"),
    [
        ("9374890100000003985049", "box-one-digit"),
        ("9374890100000003958039", "box-adjacent-swap"),
        ("937489010000000398503", "box-dropped"),
        ("93748901000000039850399", "box-extra"),
        ("93748901000000039850", "box-truncated"),
        (CARD, "box-card-own"),
        ("Ms Imagined Person", "box-no-number"),
    ],
)
def test_a_box_that_says_something_else_differs(box: str, code: str) -> None:
    judgment = judge(piece(box=box))
    assert judgment.verdict is Verdict.DIFFERS
    assert judgment.verdict.clerk_word == "Do not seal"
    assert code in codes(judgment)


def test_two_valid_numbers_are_not_the_same_number() -> None:
    judgment = judge(piece(box=OTHER), others={OTHER: "piece 12"})
    assert judgment.verdict is Verdict.DIFFERS
    assert "piece 12" in " ".join(finding.message for finding in judgment.findings)


def test_letters_in_the_box_are_asked_about_not_decided() -> None:
    judgment = judge(piece(box=PACKAGE.replace("0", "O")))
    assert judgment.verdict is Verdict.UNREAD
    assert {"letters-for-digits", "box-unread"} <= codes(judgment)
    assert judgment.written is None


def test_a_label_with_a_bad_check_digit_never_agrees_even_with_an_equal_box() -> None:
    bad = PACKAGE[:-1] + "8"
    judgment = judge(piece(label=bad, box=bad))
    assert judgment.verdict is Verdict.UNREAD
    assert "label-check-digit" in codes(judgment)


def test_two_article_numbers_on_the_piece() -> None:
    judgment = judge([*piece(), read(Side.LABEL, OTHER)])
    assert judgment.verdict is Verdict.UNREAD
    assert "two-articles" in codes(judgment)
    assert judgment.article is None


def test_another_barcode_on_the_envelope_is_only_noted() -> None:
    judgment = judge([*piece(), read(Side.LABEL, "ORDER-4711")])
    assert judgment.verdict is Verdict.AGREES


def test_two_card_numbers() -> None:
    other = numbers.with_mod10("959094010000000000001")
    judgment = judge([*piece(), read(Side.CARD, other)])
    assert judgment.verdict is Verdict.UNREAD
    assert "two-cards" in codes(judgment)


def test_an_s10_item_may_have_a_card_without_number() -> None:
    judgment = judge([read(Side.LABEL, S10), keyed_box(S10)])
    assert judgment.verdict is Verdict.AGREES
    assert judgment.card is None
    assert "card-numberless" in codes(judgment)


def test_an_s10_item_whose_card_has_a_number_needs_it() -> None:
    readings = [read(Side.LABEL, S10), keyed_box(S10)]
    listed = [ExpectedPair(article=S10, card=CARD, source="list")]
    assert judge(readings, expected=listed).verdict is Verdict.UNREAD
    assert judge([*readings, read(Side.CARD, CARD[:-1])]).verdict is Verdict.UNREAD
    assert judge([*readings, read(Side.UNPLACED, CARD[:-1])]).verdict is Verdict.UNREAD


def test_an_article_of_the_list_never_becomes_a_card() -> None:
    readings = [read(Side.LABEL, PACKAGE), read(Side.LABEL, OTHER), keyed_box(PACKAGE)]
    expected = [
        ExpectedPair(article=PACKAGE, card=OTHER, source="list"),
        ExpectedPair(article=OTHER, card=None, source="list"),
    ]
    assert judge(readings, expected=expected).verdict is Verdict.UNREAD


def test_bars_of_one_number_with_two_routing_codes_are_looked_at_again() -> None:
    readings = [
        read(Side.LABEL, f"42011111{PACKAGE}"),
        read(Side.CARD, CARD),
        read(Side.BOX, f"42022222{PACKAGE}"),
    ]
    judgment = judge(readings)
    assert judgment.verdict is Verdict.UNREAD
    assert "routing-differs" in codes(judgment)


def test_a_label_whose_convention_only_fits_with_91_is_looked_at_again() -> None:
    label = "71969010756003077385"  # tracking_number_data; valid with 91 in front
    assert judge(piece(label=label, box=label)).verdict is Verdict.UNREAD
    told = Reading(side=Side.LABEL, how=How.BARCODE, number=identify(f"91{label}"), source="scan")
    assert judge([told, *piece(box=label)[1:]]).verdict is Verdict.AGREES


def test_bars_in_the_box_that_are_no_number_are_doubted() -> None:
    judgment = judge([*piece(), read(Side.BOX, PACKAGE[:-1])])
    assert judgment.verdict is Verdict.UNREAD


def test_any_other_family_needs_the_cards_number() -> None:
    judgment = judge([read(Side.LABEL, PACKAGE), keyed_box(PACKAGE)])
    assert judgment.verdict is Verdict.UNREAD


def test_a_privately_printed_card_warns_and_agrees() -> None:
    card = numbers.with_mod10("959031010000000000001")
    judgment = judge(piece(card=card))
    assert judgment.verdict is Verdict.AGREES
    assert "card-prefix-unusual" in codes(judgment)


def test_a_card_known_only_by_the_expected_list() -> None:
    readings = [read(Side.LABEL, PACKAGE), read(Side.LABEL, OTHER), keyed_box(PACKAGE)]
    assert judge(readings).verdict is Verdict.UNREAD
    expected = [ExpectedPair(article=PACKAGE, card=OTHER, source="list")]
    judgment = judge(readings, expected=expected)
    assert (judgment.verdict, judgment.card) == (Verdict.AGREES, OTHER)


def test_a_box_barcode_that_is_the_labels_own_symbol_does_not_count() -> None:
    shared = quad(10, 10)
    readings = [
        read(Side.LABEL, PACKAGE, quad=shared, source="photo"),
        read(Side.CARD, CARD),
        read(Side.BOX, PACKAGE, quad=shared, source="photo"),
    ]
    judgment = judge(readings)
    assert judgment.verdict is Verdict.UNREAD
    assert {"one-symbol-two-sides", "box-unread"} <= codes(judgment)


def test_a_strip_elsewhere_in_the_same_photo_counts() -> None:
    readings = [
        read(Side.LABEL, PACKAGE, quad=quad(10, 10)),
        read(Side.CARD, CARD),
        read(Side.BOX, PACKAGE, quad=quad(10, 500)),
    ]
    assert judge(readings).verdict is Verdict.AGREES


def test_a_symbol_whose_place_leaves_doubt_makes_it_unread() -> None:
    for readings in (
        [*piece(), read(Side.UNPLACED, OTHER)],
        [*piece()[:2], read(Side.UNPLACED, PACKAGE)],
        [*piece()[1:], read(Side.UNPLACED, PACKAGE)],
    ):
        judgment = judge(readings)
        assert judgment.verdict is Verdict.UNREAD
        assert "place-in-doubt" in codes(judgment)


def test_the_labels_number_once_more_is_no_doubt_when_the_box_was_read_by_a_person() -> None:
    assert judge([*piece(), read(Side.UNPLACED, PACKAGE)]).verdict is Verdict.AGREES
    other_box = piece(box=OTHER)
    assert judge([*other_box, read(Side.UNPLACED, PACKAGE)]).verdict is Verdict.DIFFERS


def test_strip_and_print_that_contradict_each_other_differ() -> None:
    judgment = judge([*piece(), read(Side.BOX, PACKAGE[:-2] + "49", How.PRINT)])
    assert judgment.verdict is Verdict.DIFFERS
    assert "box-says-two-things" in codes(judgment)
    assert (judgment.written, judgment.written_by) == (None, None)


def test_what_was_found_while_reading_counts() -> None:
    conflict = Finding.read_back("engines-disagree", message="Two readings.", weight=Weight.DOUBT)
    assert judge(piece(), found=[conflict]).verdict is Verdict.UNREAD


def test_the_cards_own_number_in_the_box_is_known_without_a_label() -> None:
    judgment = judge([read(Side.CARD, CARD), keyed_box(CARD)])
    assert judgment.verdict is Verdict.DIFFERS
    assert "box-card-own" in codes(judgment)


@pytest.mark.parametrize(
    ("pair", "verdict", "code"),
    [
        (ExpectedPair(article=PACKAGE, card=CARD, source="list"), Verdict.AGREES, ""),
        (ExpectedPair(article=PACKAGE, card=None, source="list"), Verdict.AGREES, ""),
        (
            ExpectedPair(article=PACKAGE, card="9590940258780083231151", source="list"),
            Verdict.DIFFERS,
            "expected-other-card",
        ),
        (ExpectedPair(article=OTHER, card=None, source="list"), Verdict.UNREAD, "not-expected"),
        (
            ExpectedPair(article=OTHER, card=CARD, source="list"),
            Verdict.DIFFERS,
            "card-expected-elsewhere",
        ),
    ],
)
def test_against_an_expected_list(pair: ExpectedPair, verdict: Verdict, code: str) -> None:
    judgment = judge(piece(), expected=[pair])
    assert judgment.verdict is verdict
    assert not code or code in codes(judgment)


@pytest.mark.parametrize(
    ("article", "card", "verdict", "code"),
    [
        (PACKAGE, CARD, Verdict.AGREES, "seen-again"),
        (PACKAGE, "9590940258780083231151", Verdict.DIFFERS, "label-used-before"),
        (PACKAGE, None, Verdict.UNREAD, "label-used-before"),
        (OTHER, CARD, Verdict.DIFFERS, "card-used-before"),
        (None, CARD, Verdict.UNREAD, "card-used-before"),
        (OTHER, None, Verdict.AGREES, ""),
    ],
)
def test_against_earlier_pieces(
    article: str | None, card: str | None, verdict: Verdict, code: str
) -> None:
    judgment = judge(piece(), earlier=[EarlierUse(piece="piece 1", article=article, card=card)])
    assert judgment.verdict is verdict
    assert not code or code in codes(judgment)


ANY_TEXT = numbers.articles | numbers.cards22 | numbers.sscs | st.text(max_size=24)


@given(
    st.lists(
        st.builds(
            read,
            st.sampled_from(Side),
            ANY_TEXT | st.just(PACKAGE) | st.just(CARD),
            st.sampled_from(How),
        ),
        max_size=5,
    )
)
def test_agrees_always_means_that_label_and_box_were_read_apart_and_are_equal(
    readings: list[Reading],
) -> None:
    judgment = judge(readings)
    assert all(finding.message and finding.code for finding in judgment.findings)
    if judgment.verdict is not Verdict.AGREES:
        return
    labels = {r.number.text for r in readings if r.side is Side.LABEL}
    boxes = {r.number.text for r in readings if r.side is Side.BOX and r.number.text}
    assert boxes == {judgment.article}
    assert judgment.article in labels


@given(numbers.labels22, numbers.cards22, st.data())
def test_no_changed_digit_in_the_box_ever_agrees(
    label: str, card: str, data: st.DataObject
) -> None:
    place = data.draw(st.integers(0, 21))
    digit = data.draw(st.sampled_from([d for d in "0123456789" if d != label[place]]))
    box = label[:place] + digit + label[place + 1 :]
    judgment = judge(piece(label=label, card=card, box=box))
    assert judgment.verdict is Verdict.DIFFERS


def test_a_number_that_was_keyed_is_said_to_be() -> None:
    keyed = Reading(side=Side.LABEL, how=How.KEYED, number=identify(PACKAGE), source="keyed")
    assert "label-keyed" in codes(judge([keyed, *piece()[1:]]))
    assert not {"label-keyed", "card-keyed"} & codes(judge(piece()))


@pytest.mark.parametrize(
    ("x", "y", "is_shared"),
    [(0, 0, True), (5, 0, True), (0, 5, True), (-5, 0, True), (0, -5, True),
     (5, 5, True), (5.1, 0, False), (0, 5.1, False), (-5.1, 0, False), (0, -5.1, False)],
)  # fmt: skip
def test_bars_whose_middle_lies_in_other_bars_are_the_same(
    x: float, y: float, is_shared: bool
) -> None:
    def square(cx: float, cy: float, half: float) -> Quad:
        return Quad(
            top_left=(cx - half, cy - half), top_right=(cx + half, cy - half),
            bottom_right=(cx + half, cy + half), bottom_left=(cx - half, cy + half),
        )  # fmt: skip

    # The middle of the small one in the large one; the other way round it never is.
    for label, box in ((5, 1), (1, 5)):
        readings = [
            read(Side.LABEL, PACKAGE, quad=square(0, 0, label)),
            read(Side.CARD, CARD),
            read(Side.BOX, PACKAGE, quad=square(x, y, box)),
        ]
        one_photo = [replace(reading, source="piece.jpg") for reading in readings]
        assert ("one-symbol-two-sides" in codes(judge(one_photo))) is is_shared


def test_a_card_without_a_number_agrees_only_where_an_operator_says_that_it_has_none() -> None:
    # Own rule: a domestic card without a number of its own, vouched for at the counter.
    numberless = [one for one in piece() if one.side is not Side.CARD]
    said = Finding.of(Code.NUMBERLESS_CONFIRMED, operator="clerk 7")
    assert judge(numberless).verdict is Verdict.UNREAD
    assert judge(numberless, found=[said]).verdict is Verdict.AGREES
    # A number was read on it after all, if not surely: what was said does not count.
    refused = [*numberless, read(Side.CARD, CARD[:-1] + "9")]
    assert judge(refused, found=[said]).verdict is Verdict.UNREAD


def test_a_few_digits_are_no_number_at_all() -> None:
    # Own rule: with fewer than six digits nothing is said of a copying error.
    for digits, is_none in ((5, True), (6, False)):
        judgment = judge(piece(box=PACKAGE[:digits]))
        assert ("box-no-number" in codes(judgment)) is is_none
        assert ("box-truncated" in codes(judgment)) is not is_none


def test_only_the_word_for_it_lets_a_piece_that_is_on_no_list_agree() -> None:
    # Own rule: a piece that no list names is looked at, unless an operator says it is right.
    listed = [ExpectedPair(article=OTHER, card=None, source="pairs.csv, line 2")]
    word = Finding.of(Code.UNLISTED_CONFIRMED, operator="clerk 7")
    other = Finding.of(Code.SCANNED_AGAIN, side="label")
    for found, verdict in (
        ([], Verdict.UNREAD), ([other], Verdict.UNREAD), ([word], Verdict.AGREES),
        ([other, word], Verdict.AGREES),
    ):  # fmt: skip
        assert judge(piece(), expected=listed, found=found).verdict is verdict


def test_without_any_remark_too_a_card_that_is_not_known_keeps_from_agreeing() -> None:
    """The rule's own conditions, should a remark that says the same ever be missing."""

    def side(text: str, of: Side, *refused: Reading) -> SideResult:
        reading = read(of, text)
        assert isinstance(reading.number, TrackingNumber)
        return SideResult(number=reading.number, readings=refused or (reading,), findings=())

    label, box = side(PACKAGE, Side.LABEL), side(PACKAGE, Side.BOX)
    nothing = SideResult(number=None, readings=(), findings=())
    damaged = replace(nothing, readings=(read(Side.CARD, CARD[:-1] + "9"),))
    numberless = (Finding.of(Code.NUMBERLESS_CONFIRMED, operator="clerk 7"),)
    for card, said, answer in (
        (side(CARD, Side.CARD), (), Verdict.AGREES), (nothing, numberless, Verdict.AGREES),
        (nothing, (), Verdict.UNREAD), (damaged, numberless, Verdict.UNREAD),
    ):  # fmt: skip
        assert verdict_of(label.number, card, box, said) is answer


def test_a_label_that_was_keyed_agrees_only_on_an_operators_word() -> None:
    # Own rule: what was keyed for the label may be what is written in the box.
    keyed = [replace(one, how=How.KEYED) if one.side is Side.LABEL else one for one in piece()]
    word = Finding.of(Code.LABEL_CONFIRMED, operator="clerk 7", why="the bars are torn")
    other = Finding.of(Code.SCANNED_AGAIN, side="label")
    assert judge(keyed).verdict is Verdict.UNREAD
    assert judge(keyed, found=[other]).verdict is Verdict.UNREAD
    assert "label-unconfirmed" in codes(judge(keyed))
    assert judge(keyed, found=[word]).verdict is Verdict.AGREES

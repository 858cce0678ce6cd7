"""What a verdict says besides, and what it does not."""

from __future__ import annotations

from dataclasses import replace

from pairing.findings import Code, Finding
from pairing.judge import judge
from pairing.model import EarlierUse, ExpectedPair, How, Reading, Rejection, Side, Verdict
from pairing.numbers import identify
from pairing.wedge import parse_keyed

PACKAGE = "9374890100000003985039"  # BCOCA Reference, IMpb example
OTHER = "9400111201080805483016"  # tracking_number_data
CARD = "9590940258780038231151"  # NC DEQ public record NOV-2020-DV-0495


def read(side: Side, text: str) -> Reading:
    return Reading(side=side, how=How.BARCODE, number=identify(text), source=side.value)


def piece(*more: Reading, label: str = PACKAGE) -> list[Reading]:
    scan = parse_keyed(PACKAGE)
    box = Reading(side=Side.BOX, how=How.KEYED, number=scan.number, source="keyed")
    return [read(Side.LABEL, label), read(Side.CARD, CARD), box, *more]


def found(code: Code, *readings: Reading, **known: object) -> list[Finding]:
    judgment = judge(readings, **known)  # type: ignore[arg-type]
    return [one for one in judgment.findings if one.code == code]


def test_one_postal_code_is_no_contradiction() -> None:
    routed = piece(label="42012345" + PACKAGE)
    assert not found(Code.ROUTING_DIFFERS, *routed)
    second = read(Side.LABEL, "42012346" + PACKAGE)
    (one,) = found(Code.ROUTING_DIFFERS, *routed, second)
    assert dict(one.parameters) == {"routings": ("12345", "12346")}


def test_only_numbers_of_another_role_are_named() -> None:
    assert not found(Code.OTHER_NUMBER, *piece())
    assert found(Code.OTHER_NUMBER, *piece(read(Side.UNPLACED, "106141411234567897")))


def test_a_strip_whose_convention_is_unsure_is_unclear_for_that_reason() -> None:
    strip = read(Side.BOX, "71969010756003077385")
    (one,) = found(Code.BOX_UNCLEAR, *piece()[:2], strip)
    reasons = dict(one.parameters)["reasons"]
    assert isinstance(reasons, tuple)
    assert [reason.code for reason in reasons if isinstance(reason, Finding)] == ["convention"]


def test_a_number_at_no_known_place_is_doubted_where_it_may_be_the_articles() -> None:
    may_be = {OTHER: True, OTHER[:-1] + "1": True, CARD: False, "8": False}
    for text, is_doubted in may_be.items():
        doubts = found(Code.PLACE_IN_DOUBT, *piece(read(Side.UNPLACED, text)))
        assert bool(doubts) is is_doubted, text


def test_the_labels_digits_in_the_box_that_hold_no_check_say_why() -> None:
    """A label of twenty digits is right by its bars' convention, and wrong without bars."""
    text = "70191640000008004105"  # state agency records
    refused = "91" + text
    number = identify(refused)
    assert isinstance(number, Rejection)
    box = Reading(side=Side.BOX, how=How.KEYED, number=replace(number, text=text), source="keyed")
    (one,) = found(Code.BOX_REFUSED, read(Side.LABEL, text), read(Side.CARD, CARD), box)
    assert dict(one.parameters)["reason"] == number.reason
    assert judge([read(Side.LABEL, text), read(Side.CARD, CARD), box]).verdict is Verdict.UNREAD


def test_how_the_box_was_read_is_that_of_its_first_reading() -> None:
    """What lies on the card comes before what was keyed of it."""
    strip = read(Side.BOX, PACKAGE)
    assert judge(piece()).written_by is How.KEYED
    assert judge([*piece()[:2], strip, piece()[2]]).written_by is How.BARCODE


def test_a_number_of_another_role_is_not_the_labels() -> None:
    for text in (CARD, "106141411234567897"):
        judged = judge(piece(label=text))
        assert judged.article is None
        assert judged.verdict is not Verdict.AGREES
        assert Code.LABEL_UNREAD in {one.code for one in judged.findings}
    doubted = Finding.of(Code.LETTERS_FOR_DIGITS, positions=(1,), letters="O", digits="0")
    in_doubt = replace(read(Side.LABEL, PACKAGE), findings=(doubted,))
    assert judge([in_doubt, *piece()[1:]]).verdict is not Verdict.AGREES


def test_the_cards_own_number_is_named_before_another_pieces() -> None:
    box = read(Side.BOX, CARD)
    others = {CARD: "0007", OTHER: "0008"}
    label, card = piece()[:2]
    (own,) = found(Code.BOX_CARD_OWN, label, card, box, others=others)
    assert dict(own.parameters)["whose"] is None
    for other in ((label, card), (label,)):
        (one,) = found(Code.BOX_OTHER_PIECE, *other, read(Side.BOX, OTHER), others=others)
        assert dict(one.parameters)["whose"] == "0008"
    (one,) = found(Code.BOX_OTHER_PIECE, label, box, others=others)
    assert dict(one.parameters)["whose"] == "0007"


def test_the_partner_that_a_number_had_before_is_named_where_it_is_known() -> None:
    for card, partner in ((OTHER, "9400 1112 0108 0805 4830 16"), (None, None)):
        use = EarlierUse(piece="entry 3", article=PACKAGE, card=card)
        (one,) = found(Code.LABEL_USED_BEFORE, *piece(), earlier=[use])
        assert dict(one.parameters).get("partner") == partner


def test_a_card_that_the_list_gives_to_no_article_is_said_to_be() -> None:
    for article, named in ((OTHER, "9400 1112 0108 0805 4830 16"), ("", "none")):
        listed = [ExpectedPair(article=article, card=CARD, source="pairs.csv")]
        (one,) = found(Code.CARD_EXPECTED_ELSEWHERE, *piece(), expected=listed)
        assert dict(one.parameters)["article"] == named


def test_the_card_that_the_list_gives_is_named() -> None:
    listed = [ExpectedPair(article=PACKAGE, card=OTHER, source="pairs.csv")]
    (one,) = found(Code.EXPECTED_OTHER_CARD, *piece(), expected=listed)
    assert dict(one.parameters)["wanted"] == "9400 1112 0108 0805 4830 16"

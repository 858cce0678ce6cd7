"""What a verdict says besides, and what it does not."""

from __future__ import annotations

from pairing.findings import Code, Finding
from pairing.judge import judge
from pairing.model import ExpectedPair, How, Reading, Side
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


def test_the_card_that_the_list_gives_is_named() -> None:
    listed = [ExpectedPair(article=PACKAGE, card=OTHER, source="pairs.csv")]
    (one,) = found(Code.EXPECTED_OTHER_CARD, *piece(), expected=listed)
    assert dict(one.parameters)["wanted"] == "9400 1112 0108 0805 4830 16"

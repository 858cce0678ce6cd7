"""Which card goes with which label.

Numbers: UPU S10-12 annex A (EE 876 543 216 CA), tracking_number_data and a public record
(`readings.CARD`); the domestic S10 one is made with the check digit of `numbers.s10`. Court mail:
invented, by the rule that `tests/numbers/test_derived.py` quotes with its source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from pairing.findings import Code, Weight
from pairing.judge import judge
from pairing.judge.pairing_rules import RULES
from pairing.model import How, Judgment, Reading, Side, Verdict
from pairing.numbers import derived, identify, s10
from tests.judge.readings import CARD, OTHER, PACKAGE, codes, read
from tests.numbers.test_derived import ARTICLE, RULE, court_articles
from tests.numbers.test_derived import CARD as COURT_CARD

ABROAD = "EE876543216CA"
AT_HOME = f"RE87654321{s10.calc_check_digit('87654321')}US"


def judged(label: str, card: str = CARD) -> tuple[Verdict, set[str]]:
    sides = [read(Side.LABEL, label), read(Side.BOX, label, How.KEYED)]
    sides += [read(Side.CARD, card)] if card else []
    found = judge(sides)
    return found.verdict, codes(found.findings)


@pytest.mark.parametrize("label", [PACKAGE, OTHER, AT_HOME])
def test_a_domestic_card_goes_with_a_domestic_label(label: str) -> None:
    verdict, found = judged(label)
    assert Code.CARD_WRONG_KIND not in found
    assert verdict is Verdict.AGREES


def test_a_domestic_card_on_a_label_of_another_country_is_asked_about() -> None:
    assert judged(ABROAD) == (Verdict.UNREAD, judged(ABROAD)[1])
    assert Code.CARD_WRONG_KIND in judged(ABROAD)[1]
    assert Code.CARD_WRONG_KIND not in judged(ABROAD, card="")[1]


def test_every_rule_names_its_source() -> None:
    assert all(rule.source and rule.labels for rule in RULES)


def court(
    *,
    label: str = ARTICLE,
    card: str = COURT_CARD,
    box: str = ARTICLE,
    how: How = How.HAND,
    rules: tuple[str, ...] = (RULE.name,),
) -> Judgment:
    """A piece in an office with these rules; "" for a side that was not read."""
    sides = ((Side.LABEL, label, How.BARCODE), (Side.CARD, card, How.BARCODE), (Side.BOX, box, how))
    return judge([_in_office(side, text, by, rules) for side, text, by in sides if text])


def _in_office(side: Side, text: str, how: How, rules: tuple[str, ...]) -> Reading:
    read_there = () if how is How.HAND else rules  # what is written is read without any rule
    number = derived.recognized(identify(text), read_there)
    return replace(read(side, text, how), number=number)


@pytest.mark.parametrize("how", [How.HAND, How.KEYED, How.PRINT, How.BARCODE])
def test_label_card_and_box_of_court_mail_agree(how: How) -> None:
    found = court(how=how)
    assert (found.verdict, found.article, found.card) == (Verdict.AGREES, ARTICLE, COURT_CARD)


def test_a_card_that_does_not_follow_from_the_label_differs_though_the_box_agrees() -> None:
    found = court(card=RULE.card_text("761234567865"))
    assert found.verdict is Verdict.DIFFERS
    (said,) = (one for one in found.findings if one.code is Code.CARD_NOT_DERIVED)
    assert (said.weight, said.positions) == (Weight.CLASH, (11,))
    assert RULE.name in said.message
    assert "6612 3456 7865 9" in said.message
    assert ARTICLE not in said.message.replace(" ", "")


def test_a_box_that_differs_is_told_though_label_and_card_fit() -> None:
    found = court(box="761234567859")
    assert (found.verdict, Code.BOX_ADJACENT_SWAP in codes(found.findings)) == (
        Verdict.DIFFERS,
        True,
    )
    assert any("no check digit" in one.message for one in found.findings)
    assert Code.BOX_CARD_OWN in codes(court(box=COURT_CARD).findings)


@pytest.mark.parametrize(
    ("found", "missing", "said"),
    [
        (court(box=""), "written", Code.BOX_UNREAD),
        (court(card=""), "card", Code.CARD_UNREAD),
        (court(label=""), "article", Code.LABEL_UNREAD),
    ],
)
def test_no_side_is_worked_out_from_another(found: Judgment, missing: str, said: Code) -> None:
    assert found.verdict is Verdict.UNREAD
    assert said in codes(found.findings)
    assert getattr(found, missing) is None


def test_a_court_card_on_another_label_and_the_reverse_are_asked_about() -> None:
    for label, card in ((PACKAGE, COURT_CARD), (ARTICLE, CARD)):
        found = court(label=label, card=card, box=label)
        assert found.verdict is Verdict.UNREAD
        assert Code.CARD_WRONG_KIND in codes(found.findings)


def test_a_rule_that_is_not_chosen_lets_nothing_through_and_is_named() -> None:
    found = court(rules=())
    assert found.verdict is Verdict.UNREAD
    (said,) = (one for one in found.findings if one.code is Code.RULE_UNCHOSEN)
    assert said.weight is Weight.NOTE
    other = court(rules=(), card=RULE.card_text("761234567865"))
    assert Code.RULE_UNCHOSEN not in codes(other.findings)


@given(court_articles, court_articles, court_articles, st.sampled_from((How.HAND, How.BARCODE)))
def test_court_mail_agrees_only_where_all_three_fit(
    label: str, of_card: str, box: str, how: How
) -> None:
    assume(label != of_card or label != box)
    found = court(label=label, card=RULE.card_text(of_card), box=box, how=how)
    assert found.verdict is Verdict.DIFFERS
    assert (Code.CARD_NOT_DERIVED in codes(found.findings)) is (label != of_card)

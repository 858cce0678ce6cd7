"""Which card goes with which label.

Numbers: UPU S10-12 annex A (EE 876 543 216 CA), tracking_number_data and a public record
(`readings.CARD`); the domestic S10 one is made with the check digit of `numbers.s10`.
"""

from __future__ import annotations

import pytest

from pairing.findings import Code
from pairing.judge import judge
from pairing.judge.pairing_rules import RULES
from pairing.model import How, Side, Verdict
from pairing.numbers import s10
from tests.judge.readings import CARD, OTHER, PACKAGE, codes, read

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

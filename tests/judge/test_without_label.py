"""What whoever keys a box is told: nothing of the label's number, its check digit neither."""

from __future__ import annotations

from dataclasses import replace

from pairing.findings import Code, Finding, Sentences
from pairing.judge import judge
from pairing.judge.without_label import without_label
from pairing.model import How, Side
from tests.judge.readings import CARD, PACKAGE, read

WRONG = f"{PACKAGE[:-1]}3"
"""The check digit is 9 (BCOCA Reference, IMpb example)."""
SIDES = (read(Side.LABEL, WRONG), read(Side.CARD, CARD, How.KEYED))


def test_a_check_digit_that_does_not_hold_is_told_without_its_digits() -> None:
    told = judge(SIDES)
    (before,) = (one for one in told.findings if one.code == Code.LABEL_CHECK_DIGIT)
    assert "is 3 where" in before.message
    assert "give 9" in before.message
    # From a ledger it comes as a sentence alone.
    recorded = replace(
        before, parameters=(), stored=Sentences(message=before.message, action=before.action)
    )
    for one in (before, recorded):
        held = without_label(replace(told, findings=(one,)), SIDES).findings
        assert [found.code for found in held] == [Code.LABEL_CHECK_DIGIT]
        assert (held[0].weight, held[0].positions) == (before.weight, before.positions)
        assert "check digit" in held[0].message
        assert "3" not in held[0].message
        assert "9" not in held[0].message


def test_what_does_not_name_the_label_is_told_as_it_is() -> None:
    told = judge(SIDES)
    others = [one for one in told.findings if one.code != Code.LABEL_CHECK_DIGIT]
    assert Code.CARD_KEYED in {one.code for one in others}
    held = without_label(told, SIDES).findings
    assert [one for one in held if one.code != Code.LABEL_CHECK_DIGIT] == others
    (named,) = without_label(
        replace(told, findings=(Finding.of(Code.NOT_EXPECTED, number=WRONG),)), SIDES
    ).findings
    assert named.message == "The label's number is not on the expected list."

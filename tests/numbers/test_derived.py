"""Numbers of which one is worked out from the other.

The rule as published: "the same number as the registered item's, but with a 6 as first digit in
place of the 7, and a nine is added to the last" (avvocatostefanomorzenti.it, 6 Feb 2018, quoting a
bar association; translated). Court mail begins 75 to 79 (studiocataldi.it 24088); 12 or 13 digits
(metrotoday.it, Controllare una raccomandata). No real number was found: these are invented.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.errors import RuleMisused
from pairing.model import CheckRule, Rejection, Role, TrackingNumber
from pairing.numbers import derived, family, identify
from pairing.wedge import WedgeSetup, parse_keyed, parse_line
from tests.numbers.strategies import articles, cards22, digits

RULE = derived.COURT_MAIL_ITALY
ARTICLE, CARD = "761234567895", "6612345678959"
court_articles = st.builds(
    lambda begins, rest: begins + rest, st.sampled_from(RULE.beginnings), digits(10)
)


def test_the_cards_number_follows_from_the_articles_as_published() -> None:
    assert RULE.card_text(ARTICLE) == CARD


@given(court_articles)
def test_a_card_is_its_articles_and_no_other_ones(text: str) -> None:
    card = RULE.card_text(text)
    assert (card[0], card[1:-1], card[-1], len(card)) == ("6", text[1:], "9", 13)
    assert RULE.is_card(card)
    assert not RULE.is_article(card)


@pytest.mark.parametrize(
    "text",
    ["741234567895", "861234567895", "76123456789", "7612345678951", "76123456789O", CARD, ""],
)
def test_a_rule_on_a_number_that_it_is_not_for_says_so(text: str) -> None:
    with pytest.raises(RuleMisused, match=r"not for this label's number") as caught:
        RULE.card_text(text)
    assert caught.value.where == text
    assert "12 digits" in caught.value.remedy


def test_a_rule_that_there_is_none_of() -> None:
    assert derived.checked(["court-mail-italy", "court-mail-italy"]) == ("court-mail-italy",)
    with pytest.raises(RuleMisused, match=r"no such pairing rule: 'court'\. Known: court-mail-"):
        derived.checked(["court"])


def test_every_rule_has_a_source_and_families() -> None:
    for rule in derived.RULES.values():
        assert rule.source
        assert (rule.article.role, rule.card.role) == (Role.ARTICLE, Role.CARD)
        for one in (rule.article, rule.card):
            assert family(one.name) is one
            assert one.source
            assert one.check_rule is CheckRule.NONE


@given(court_articles)
def test_without_the_rule_nothing_of_it_is_recognized(text: str) -> None:
    for one in (text, RULE.card_text(text)):
        assert isinstance(identify(one), Rejection)
        assert derived.recognized(identify(one), ()) == identify(one)
        assert isinstance(parse_line(one)[0].number, Rejection)
        assert isinstance(parse_keyed(one).number, Rejection)


@given(court_articles)
def test_with_the_rule_scans_and_keyed_numbers_are_of_its_families(text: str) -> None:
    setup = WedgeSetup(rules=(RULE.name,))
    for one, known in ((text, RULE.article), (RULE.card_text(text), RULE.card)):
        for scan in (*parse_line(f"]C0{one}", setup), parse_keyed(one, setup)):
            assert isinstance(scan.number, TrackingNumber)
            assert (scan.number.family, scan.number.role) == (known, known.role)
            assert (scan.number.text, "".join(p.text for p in scan.number.parts)) == (one, one)
            assert [p.start for p in scan.number.parts] == [0]


@given(articles | cards22)
def test_the_rule_changes_no_number_of_the_usual_families(text: str) -> None:
    assert derived.recognized(identify(text), (RULE.name,)) == identify(text)


@pytest.mark.parametrize("aim", ["]E0", "]I0", "]A0"])
def test_bars_that_labels_and_cards_do_not_have_bear_no_such_number(aim: str) -> None:
    found = derived.recognized(identify(ARTICLE, aim=aim), (RULE.name,), aim=aim)
    assert isinstance(found, Rejection)


def test_what_is_cut_short_is_not_taken_for_court_mail() -> None:
    """Of the numbers of 20 digits only insured ones begin with 7 and such a second digit."""
    setup = WedgeSetup(rules=(RULE.name,))
    for begins in ("70", "71", "73"):
        assert isinstance(parse_line(f"{begins}1916400000", setup)[0].number, Rejection)

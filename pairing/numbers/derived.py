"""Pairs of numbers of which an operator works out one from the other, as data. Pure.

A rule has families, a transformation and a source. Its numbers have no published check digit, and
digits of their shape may be anybody's: so none is recognized unless an office chooses the rule by
its name. What follows from a label's number is held against the card's; it never stands in for a
number that was not read.

>>> COURT_MAIL_ITALY.card_text("761234567895")
'6612345678959'
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from pairing.errors import RuleMisused
from pairing.model import CheckRule, Family, Number, Part, Rejection, Role, TrackingNumber
from pairing.numbers import symbology
from pairing.numbers import text as texts


@dataclass(frozen=True, slots=True, kw_only=True)
class Derivation:
    """How a card's number follows from its label's.

    name: what an office chooses it by. article, card: the families. beginnings: how a label's
    number begins. first: the digit that takes the place of its first one. appended: what stands
    behind the rest. source: where that is written.
    """

    name: str
    article: Family
    card: Family
    beginnings: tuple[str, ...]
    first: str
    appended: str
    source: str

    def card_text(self, article: str) -> str:
        """The card's number that follows from the label's (canonical texts). Raises RuleMisused
        for a text that is no label's number of this rule."""
        if not self.is_article(article):
            raise RuleMisused(
                f"The pairing rule {self.name} is not for this label's number",
                where=article,
                remedy=f"It is for {self.article.title}s: {self.article.lengths[0]} digits that "
                f"begin {', '.join(self.beginnings)}.",
            )
        return self.first + article[1:] + self.appended

    def is_article(self, text: str) -> bool:
        """Whether a text has the shape of this rule's label numbers."""
        return _has_length(text, self.article) and text.startswith(self.beginnings)

    def is_card(self, text: str) -> bool:
        """Whether a text has the shape of this rule's card numbers."""
        begins = tuple(self.first + one[1:] for one in self.beginnings)
        return (
            _has_length(text, self.card)
            and text.startswith(begins)
            and text.endswith(self.appended)
        )


def _has_length(text: str, family: Family) -> bool:
    return texts.is_digits(text) and len(text) in family.lengths


_LENGTHS = "12 or 13 digits (metrotoday.it, Controllare una raccomandata)"

COURT_MAIL_ITALY = Derivation(
    name="court-mail-italy",
    article=Family(
        name="court-article",
        title="court mail number",
        role=Role.ARTICLE,
        lengths=(12,),
        group_sizes=(4,),
        check_rule=CheckRule.NONE,
        source=f"begins 75 to 79 (studiocataldi.it 24088); {_LENGTHS}; no check digit published",
    ),
    card=Family(
        name="court-card",
        title="court mail card number",
        role=Role.CARD,
        lengths=(13,),
        group_sizes=(4,),
        check_rule=CheckRule.NONE,
        source=f"follows from the article's (avvocatostefanomorzenti.it, 6 Feb 2018); {_LENGTHS}",
    ),
    beginnings=("75", "76", "77", "78", "79"),
    first="6",
    appended="9",
    source="the article's number with a 6 for its first 7, and a 9 at the end "
    "(avvocatostefanomorzenti.it, 6 Feb 2018, quoting a bar association). vaccarinews.it 24220 has "
    "it that the first and the last digit change: such a card is of no family here, and unread",
)

RULES = {rule.name: rule for rule in (COURT_MAIL_ITALY,)}
"""Name to rule."""
FAMILIES = {family.name: family for rule in RULES.values() for family in (rule.article, rule.card)}
"""Name to family, of all rules."""


def checked(names: Collection[str]) -> tuple[str, ...]:
    """The names, each once. Raises RuleMisused for one that no rule has."""
    for name in names:
        if name not in RULES:
            raise RuleMisused(
                "There is no such pairing rule", where=name, remedy=f"Known: {', '.join(RULES)}."
            )
    return tuple(dict.fromkeys(names))


def recognized(number: Number, names: Collection[str], *, aim: str = "") -> Number:
    """The same, or, of what is no number of a usual family, the number of a rule among `names`.

    names: of rules, checked. aim: the symbology identifier that it came with; bars other than
    those of labels and cards bear no such number."""
    if isinstance(number, TrackingNumber) or (aim and aim[1] not in symbology.EXPECTED):
        return number
    for name in names:
        rule = RULES[name]
        for family, holds in ((rule.article, rule.is_article), (rule.card, rule.is_card)):
            if holds(number.text):
                return _of_family(number, family)
    return number


def rule_of(number: TrackingNumber) -> Derivation | None:
    """The rule that the number is of, if it is of one."""
    for rule in RULES.values():
        if number.family in (rule.article, rule.card):
            return rule
    return None


def _of_family(number: Rejection, family: Family) -> TrackingNumber:
    return TrackingNumber(
        family=family,
        text=number.text,
        parts=(Part(name="whole number", text=number.text, start=0),),
        role=family.role,
        check_rule=family.check_rule,
        given=number.given,
    )

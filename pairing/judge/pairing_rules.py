"""Which card may go with which label, as a table. Pure.

A rule names the card's family, the labels that it goes with, and where that is written. Broken, it
asks a person: the number in the box may be right on a card that nobody will bring back.

No rule derives one number from the other yet: the one that is known (court mail in Italy,
`shared/forms.md`: first digit 7 becomes 6, and a 9 at the end) is about numbers of which no
published check digit was found, so that no family here recognizes them.
"""

from __future__ import annotations

from dataclasses import dataclass

from pairing.findings import Code, Finding, Weight
from pairing.model import TrackingNumber
from pairing.numbers import card22, label20, label22, package, s10

_COUNTRY_DIGITS = slice(11, 13)
"""Where an S10 number has its country of issue (UPU S10-12)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """card: a card's family. labels: families of labels that it goes with. countries: of those
    whose numbers tell a country of issue, the right ones. source: where that is written."""

    card: str
    labels: frozenset[str]
    countries: frozenset[str]
    source: str


RULES = (
    Rule(
        card=card22.FAMILY.name,
        labels=frozenset(
            (label22.FAMILY.name, label20.FAMILY.name, package.FAMILY.name, s10.FAMILY.name)
        ),
        countries=frozenset(("US",)),
        source="the domestic card has bars and a number of its own (faq.usps.com, Return Receipt - "
        "The Basics); abroad the card is CN 07, without one (IMM 753, 2017). Registered domestic "
        "mail has S10 numbers of country US (from memory)",
    ),
)


def broken(article: TrackingNumber | None, card: TrackingNumber | None) -> tuple[Finding, ...]:
    """What is to be said of a label and a card that do not go together by a rule. () where no
    rule is about that card."""
    if article is None or card is None:
        return ()
    for rule in RULES:
        if rule.card != card.family.name:
            continue
        country = article.text[_COUNTRY_DIGITS] if article.family.name == s10.FAMILY.name else ""
        is_abroad = country != "" and country not in rule.countries
        if article.family.name in rule.labels and not is_abroad:
            continue
        return (
            Finding.of(
                Code.CARD_WRONG_KIND,
                weight=Weight.DOUBT,
                label=article.family.title,
                card=card.family.title,
                country=country,
            ),
        )
    return ()

"""Which card may go with which label, as tables. Pure.

A rule of kinds names the card's family, the labels that it goes with, and where that is written.
Broken, it asks a person: the number in the box may be right on a card that nobody will bring back.

Where an operator works out the card's number from the label's (`numbers.derived`), label and card
are held against each other as well: a card whose number does not follow is another piece's. Nothing
is taken from that for the box, which is read and compared as on any card.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from pairing.findings import Code, Finding, Weight
from pairing.model import How, Reading, Side, TrackingNumber
from pairing.numbers import card22, derived, label20, label22, package, printed, s10

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
    *(
        Rule(
            card=one.card.name,
            labels=frozenset((one.article.name,)),
            countries=frozenset(),
            source=one.source,
        )
        for one in derived.RULES.values()
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
            return _not_derived(article, card)
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


def _not_derived(article: TrackingNumber, card: TrackingNumber) -> tuple[Finding, ...]:
    """That the card's number does not follow from the label's, where a rule says that it does."""
    rule = derived.rule_of(article)
    if rule is None:
        return ()
    wanted = rule.card_text(article.text)
    if wanted == card.text:
        return ()
    places = tuple(
        at for at, (one, other) in enumerate(zip(wanted, card.text, strict=True), 1) if one != other
    )
    return (
        Finding.of(
            Code.CARD_NOT_DERIVED,
            positions=places,
            rule=rule.name,
            number=printed(card),
        ),
    )


def of_rules(readings: Sequence[Reading]) -> tuple[Reading, ...]:
    """The readings with what is written in the box as a number of a rule, where it has that shape:
    it is compared with the label and believed by nobody. Bars are recognized where they are read,
    or not at all."""
    return tuple(
        replace(one, number=derived.recognized(one.number, tuple(derived.RULES)))
        if one.side is Side.BOX and one.how is not How.BARCODE
        else one
        for one in readings
    )


def unchosen(readings: Sequence[Reading]) -> tuple[Finding, ...]:
    """That two scans are label and card of a rule that the office did not choose: one follows from
    the other by it, digit by digit."""
    texts = {
        one.number.text
        for one in readings
        if one.how is How.BARCODE and not isinstance(one.number, TrackingNumber)
    }
    return tuple(
        Finding.of(Code.RULE_UNCHOSEN, rule=rule.name, title=rule.article.title)
        for rule in derived.RULES.values()
        if any(rule.is_article(text) and rule.card_text(text) in texts for text in texts)
    )

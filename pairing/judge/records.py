"""The piece against what is known from elsewhere: an expected list, earlier pieces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from pairing.model import (
    EarlierUse,
    ExpectedPair,
    Finding,
    Reading,
    Role,
    Side,
    TrackingNumber,
    Weight,
)
from pairing.numbers import identify, printed


def with_expected_roles(
    readings: Sequence[Reading], expected: Sequence[ExpectedPair]
) -> tuple[Sequence[Reading], tuple[Finding, ...]]:
    """A privately printed card whose prefix does not tell is known by the expected list.

    A number that the list also has as an article keeps its own role.
    """
    cards = {pair.card for pair in expected if pair.card} - {pair.article for pair in expected}
    changed, findings = [], []
    for reading in readings:
        number = reading.number
        if (
            reading.side is Side.BOX
            or not isinstance(number, TrackingNumber)
            or number.role is Role.CARD
            or number.text not in cards
        ):
            changed.append(reading)
            continue
        changed.append(replace(reading, side=Side.CARD, number=replace(number, role=Role.CARD)))
        findings.append(
            Finding(
                code="card-by-list",
                message=f"{printed(number)} counts as the card's number because the expected "
                "list says so; its form does not tell.",
            )
        )
    return changed, tuple(findings)


def against_expected(
    article: TrackingNumber | None,
    card: TrackingNumber | None,
    expected: Sequence[ExpectedPair],
) -> tuple[Finding, ...]:
    """What the expected list says against this pair; nothing where there is no list."""
    if not expected or article is None:
        return ()
    findings = []
    mine = [pair for pair in expected if pair.article == article.text]
    if not mine:
        findings.append(
            Finding(
                code="not-expected",
                message=f"{printed(article)} is not on the expected list.",
                action="Find out where this label came from.",
                weight=Weight.DOUBT,
            )
        )
    if card is None:
        return tuple(findings)
    for pair in mine:
        if pair.card and pair.card != card.text:
            findings.append(_other_card(pair, card))
    for pair in expected:
        if pair.card == card.text and pair.article != article.text:
            findings.append(
                Finding(
                    code="card-expected-elsewhere",
                    message=f"{pair.source} gives this card to article {_shown(pair.article)}.",
                    action="Find that piece: two cards may be exchanged.",
                    weight=Weight.CLASH,
                )
            )
    return tuple(findings)


def against_earlier(
    article: TrackingNumber | None,
    card: TrackingNumber | None,
    earlier: Sequence[EarlierUse],
) -> tuple[Finding, ...]:
    """Other pieces that bear this label's or this card's number."""
    findings = []
    for use in earlier:
        same_article = article is not None and use.article == article.text
        same_card = card is not None and use.card == card.text
        if same_article and same_card:
            findings.append(
                Finding(
                    code="seen-again",
                    message=f"Label and card are those of {use.piece}: the same piece again.",
                )
            )
        elif same_article:
            findings.append(_used_before("label", use, "card", use.card, card))
        elif same_card:
            findings.append(_used_before("card", use, "article", use.article, article))
    return tuple(findings)


def _used_before(
    item: str, use: EarlierUse, partner: str, theirs: str | None, ours: TrackingNumber | None
) -> Finding:
    """One number on two pieces: a clash where their partners are both known to differ."""
    number = "article number" if item == "label" else "card's number"
    beside = f", with {partner} {_shown(theirs)}" if theirs else ""
    return Finding(
        code=f"{item}-used-before",
        message=f"This {number} is on {use.piece} too{beside}.",
        action=f"Find both pieces; one of them needs a new {item}.",
        weight=Weight.CLASH if theirs is not None and ours is not None else Weight.DOUBT,
    )


def _other_card(pair: ExpectedPair, card: TrackingNumber) -> Finding:
    return Finding(
        code="expected-other-card",
        message=f"{pair.source} gives this article card {_shown(pair.card)}; "
        f"the piece bears {printed(card)}.",
        action="Find the card that belongs to this article.",
        weight=Weight.CLASH,
    )


def _shown(text: str | None) -> str:
    return printed(identify(text)) if text else "none"

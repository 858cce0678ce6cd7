"""The piece against what is known from elsewhere: an expected list, earlier pieces."""

from __future__ import annotations

from collections.abc import Sequence

from pairing.model import EarlierUse, ExpectedPair, Finding, TrackingNumber, Weight
from pairing.numbers import identify, printed


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
            other = use.card is not None and card is not None
            findings.append(
                Finding(
                    code="label-used-before",
                    message=f"This article number is on {use.piece} too"
                    + (f", with card {_shown(use.card)}." if use.card else "."),
                    action="Find both pieces; one of them needs a new label.",
                    weight=Weight.CLASH if other else Weight.DOUBT,
                )
            )
        elif same_card:
            other = use.article is not None and article is not None
            findings.append(
                Finding(
                    code="card-used-before",
                    message=f"This card's number is on {use.piece} too"
                    + (f", with article {_shown(use.article)}." if use.article else "."),
                    action="Find both pieces; one of them needs a new card.",
                    weight=Weight.CLASH if other else Weight.DOUBT,
                )
            )
    return tuple(findings)


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

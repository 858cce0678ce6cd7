"""The piece against what is known from elsewhere: an expected list, earlier pieces.

A contradiction with a record (a card used for another piece, another card expected) counts as
"differs": it was read, and it says do not seal.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from pairing.findings import Code, Finding, Weight
from pairing.model import EarlierUse, ExpectedPair, Reading, Role, Side, TrackingNumber
from pairing.numbers import printed


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
        findings.append(Finding.of(Code.CARD_BY_LIST, number=printed(number)))
    return changed, tuple(findings)


def against_expected(
    article: TrackingNumber | None,
    card: TrackingNumber | None,
    expected: Sequence[ExpectedPair],
    found: Sequence[Finding] = (),
) -> tuple[Finding, ...]:
    """What the expected list says against this pair; nothing where there is no list. found: among
    it that an operator says the piece is rightly on none."""
    if not expected or article is None:
        return ()
    findings = []
    mine = [pair for pair in expected if pair.article == article.text]
    if not mine and not any(one.code == Code.UNLISTED_CONFIRMED for one in found):
        findings.append(Finding.of(Code.NOT_EXPECTED, number=printed(article)))
    if card is None:
        return tuple(findings)
    for pair in mine:
        if pair.card and pair.card != card.text:
            findings.append(_other_card(pair, card))
    for pair in expected:
        if pair.card == card.text and pair.article != article.text:
            findings.append(
                Finding.of(
                    Code.CARD_EXPECTED_ELSEWHERE,
                    source=pair.source,
                    article=printed(pair.article) or "none",
                )
            )
    return tuple(findings)


def against_earlier(
    article: TrackingNumber | None,
    card: TrackingNumber | None,
    earlier: Sequence[EarlierUse],
) -> tuple[Finding, ...]:
    """Other pieces that have this label's or this card's number."""
    findings = []
    for use in earlier:
        same_article = article is not None and use.article == article.text
        same_card = card is not None and use.card == card.text
        if same_article and same_card:
            findings.append(Finding.of(Code.SEEN_AGAIN, piece=use.piece))
        elif same_article:
            findings.append(_used_before(Code.LABEL_USED_BEFORE, use, use.card, card))
        elif same_card:
            findings.append(_used_before(Code.CARD_USED_BEFORE, use, use.article, article))
    return tuple(findings)


def _used_before(
    code: Code, use: EarlierUse, theirs: str | None, ours: TrackingNumber | None
) -> Finding:
    """One number on two pieces: a clash where their partners are both known to differ."""
    return Finding.of(
        code,
        weight=Weight.CLASH if theirs is not None and ours is not None else Weight.DOUBT,
        piece=use.piece,
        partner=printed(theirs) or None,
    )


def _other_card(pair: ExpectedPair, card: TrackingNumber) -> Finding:
    return Finding.of(
        Code.EXPECTED_OTHER_CARD,
        source=pair.source,
        wanted=printed(pair.card or ""),
        found=printed(card),
    )

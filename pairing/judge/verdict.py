"""The verdict for one piece.

"agrees" is built up, never the default: it needs every one of its conditions, and whatever
this module does not foresee ends in "unread". The reasons for "unread" are the findings that weigh
as a doubt: `findings.codes.Code` lists every one and what it means; the rooms that see them give
them, and here they are collected and weighed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pairing.compare import CopyError, compare
from pairing.findings import Code, Finding, Weight
from pairing.judge import independence, known_elsewhere, pairing_rules, sides
from pairing.judge.box import weighing
from pairing.model import (
    CheckRule,
    EarlierUse,
    ExpectedPair,
    Judgment,
    Quad,
    Reading,
    Role,
    Side,
    TrackingNumber,
    Verdict,
)
from pairing.numbers import card22, is_number, printed
from pairing.numbers import text as texts


def judge(
    readings: Sequence[Reading],
    *,
    expected: Sequence[ExpectedPair] = (),
    earlier: Sequence[EarlierUse] = (),
    others: Mapping[str, str] | None = None,
    found: Sequence[Finding] = (),
) -> Judgment:
    """The verdict for one piece and why.

    readings: everything read on it, each with its side and how it was read.
    expected: pairs that another system printed; () where there is no such list.
    earlier: other pieces, of this batch or before.
    others: article numbers of other pieces to the name of their piece, to name what
        is written in a wrong box. Never used to read anything.
    found: what was found while reading, such as two decoders that contradict each other.
    """
    readings, known_cards = known_elsewhere.with_expected_roles(readings, expected)
    readings = pairing_rules.of_rules(readings)
    label, card = sides.label(readings), sides.card(readings)
    boxes, shared = _not_the_label(readings)
    box = sides.box(boxes)
    findings = [
        *found,
        *known_cards,
        *label.findings,
        *weighing.still_to_say(box.findings, found),
        *shared,
    ]
    findings += _card_findings(label.number, card, readings, expected, found)
    findings += _unplaced(label.number, box, readings)
    findings += pairing_rules.broken(label.number, card.number)
    findings += pairing_rules.unchosen(readings)
    findings += _routing_findings(readings)
    findings += _independence(label, box, found)
    for reading in box.readings:
        findings += _against_box(label.number, card.number, reading, others or {})
    findings += known_elsewhere.against_expected(label.number, card.number, expected, found)
    findings += known_elsewhere.against_earlier(label.number, card.number, earlier)
    distinct = tuple(dict.fromkeys(findings))
    written = {reading.number.text for reading in box.readings}
    return Judgment(
        verdict=_verdict(label.number, card, box, distinct),
        article=label.number.text if label.number else None,
        card=card.number.text if card.number else None,
        written=written.pop() if len(written) == 1 else None,
        written_by=box.readings[0].how if len(box.readings) and not written else None,
        findings=distinct,
    )


def _verdict(
    article: TrackingNumber | None,
    card: sides.SideResult,
    box: sides.SideResult,
    findings: tuple[Finding, ...],
) -> Verdict:
    if any(finding.weight is Weight.CLASH for finding in findings):
        return Verdict.DIFFERS
    is_cardless = _cardless(article) or _is_said_numberless(findings)
    card_known = card.number is not None or (not card.readings and is_cardless)
    if (
        article is not None
        and card_known
        and box.number is not None
        and box.number.role is Role.ARTICLE
        and box.number.text == article.text
        and not any(finding.weight is Weight.DOUBT for finding in findings)
    ):
        return Verdict.AGREES
    return Verdict.UNREAD


def _independence(
    label: sides.SideResult, box: sides.SideResult, found: Sequence[Finding]
) -> tuple[Finding, ...]:
    """Why label and box may not agree though they say the same, if so."""
    if label.number is None or box.number is None or label.number.text != box.number.text:
        return ()
    return independence.doubts(label.readings, box.readings, found)


def _cardless(article: TrackingNumber | None) -> bool:
    """An S10 item's advice of receipt (CN 07) has no number of its own."""
    return article is not None and article.check_rule is CheckRule.S10_MOD11


def _is_said_numberless(findings: Sequence[Finding]) -> bool:
    """Whether an operator says that the card has no number of its own, and nothing speaks
    against it."""
    codes = {finding.code for finding in findings}
    return Code.NUMBERLESS_CONFIRMED in codes and Code.CARD_UNREAD not in codes


def _card_findings(
    article: TrackingNumber | None,
    card: sides.SideResult,
    readings: Sequence[Reading],
    expected: Sequence[ExpectedPair],
    found: Sequence[Finding],
) -> tuple[Finding, ...]:
    if article is None or card.number is not None or card.readings:
        return card.findings
    if _may_have_number(article, readings, expected):
        return card.findings
    others = tuple(one for one in card.findings if one.code != Code.CARD_UNREAD)
    if any(one.code == Code.NUMBERLESS_CONFIRMED for one in found):
        return others
    if _cardless(article):
        return (*others, Finding.of(Code.CARD_NUMBERLESS))
    return card.findings


def _may_have_number(
    article: TrackingNumber, readings: Sequence[Reading], expected: Sequence[ExpectedPair]
) -> bool:
    """Whether this piece's card has a number after all: the list says so, or something like
    a card's number was seen."""
    listed = any(pair.card for pair in expected if pair.article == article.text)
    return listed or any(one.number.text.startswith(card22.PREFIX) for one in readings)


def _unplaced(
    article: TrackingNumber | None, box: sides.SideResult, readings: Sequence[Reading]
) -> tuple[Finding, ...]:
    """What was read in an unknown place leaves no doubt where it is the label's own number
    again and the box was read by other means."""
    if article is None or not box.readings:
        return sides.unplaced(readings)
    return sides.unplaced([one for one in readings if one.number.text != article.text])


def _routing_findings(readings: Sequence[Reading]) -> tuple[Finding, ...]:
    """Two routing codes on the bars of one piece: the strip comes from another label."""
    codes = {
        one.number.routing
        for one in readings
        if isinstance(one.number, TrackingNumber)
        and one.number.role is Role.ARTICLE
        and one.number.routing
    }
    if len(codes) < 2:
        return ()
    return (Finding.of(Code.ROUTING_DIFFERS, routings=tuple(sorted(codes))),)


def _not_the_label(
    readings: Sequence[Reading],
) -> tuple[tuple[Reading, ...], tuple[Finding, ...]]:
    """The box's readings without any that is the label's own symbol once more."""
    labels = [reading for reading in readings if reading.side is Side.LABEL]
    boxes = [reading for reading in readings if reading.side is Side.BOX]
    kept = tuple(box for box in boxes if not any(_one_symbol(box, other) for other in labels))
    if len(kept) == len(boxes):
        return kept, ()
    return kept, (Finding.of(Code.ONE_SYMBOL_TWO_SIDES),)


def _one_symbol(one: Reading, other: Reading) -> bool:
    if one.quad is None or other.quad is None or one.source != other.source:
        return False
    return _within(one.quad.center, other.quad) or _within(other.quad.center, one.quad)


def _within(point: tuple[float, float], quad: Quad) -> bool:
    xs = [x for x, _ in quad.corners]
    ys = [y for _, y in quad.corners]
    return min(xs) <= point[0] <= max(xs) and min(ys) <= point[1] <= max(ys)


def _against_box(
    article: TrackingNumber | None,
    card: TrackingNumber | None,
    reading: Reading,
    others: Mapping[str, str],
) -> tuple[Finding, ...]:
    """The box beside the label, and beside the card's own number even without a label."""
    text = reading.number.text
    if article is None:
        is_own = card is not None and text == card.text
        return (Finding.of(Code.BOX_CARD_OWN, number=printed(reading.number)),) if is_own else ()
    if texts.count_digits(text) < texts.FEWEST_DIGITS:
        given = reading.number.given.strip()
        return (Finding.of(Code.BOX_NO_NUMBER, text=given),)
    if text == article.text:
        return _equal_but_refused(reading)
    return (_differs(article, card, text, others),)


def _differs(
    article: TrackingNumber,
    card: TrackingNumber | None,
    text: str,
    others: Mapping[str, str],
) -> Finding:
    is_others = text in others and (card is None or text != card.text)
    comparison = compare(
        article.text,
        text,
        group_sizes=article.family.group_sizes,
        is_valid=is_number,
        card=card.text if card else None,
        others=(text,) if is_others else (),
    )
    return Finding.from_parameters(
        (comparison.error or CopyError.DIFFERENT).code,
        {
            **comparison.parameters,
            "whose": others[text] if is_others else None,
            "is_unchecked": article.check_rule is CheckRule.NONE or None,
        },
        positions=comparison.positions,
    )


def _equal_but_refused(reading: Reading) -> tuple[Finding, ...]:
    if isinstance(reading.number, TrackingNumber):
        return ()
    return (Finding.of(Code.BOX_REFUSED, reason=reading.number.reason),)

"""What a blind reading of the box comes to, once the label's number is known.

The reading was made without that number; here the two meet for the first time.

A card without a number of its own is never vouched for by a machine's reading of writing. A box
keyed as the label's number does not overrule a reading that is sure of another.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from pairing.findings import Code, Finding
from pairing.judge.box import (
    Decision,
    Seen,
    Stretch,
    Thresholds,
    Unread,
    answered,
    decide,
    doubts,
    places,
)
from pairing.judge.box.rule import differ_alike
from pairing.model import How, Quad, Reading, Side, TrackingNumber, Verdict
from pairing.numbers import identify, printed
from pairing.numbers import text as texts

_DOUBTFUL = (
    Code.BOX_DIGITS_DOUBTFUL,
    Code.BOX_DOUBTFUL,
    Code.BOX_KEYED_OTHERWISE,
    Code.BOX_OVER_EDGE,
    Code.BOX_GROUP_MISSING,
)
SPECIFIC = frozenset((*(one.code for one in Unread), *_DOUBTFUL))
"""Findings that say why the box was not read; beside one of them nothing more general is said."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """What the reading of the box adds to a piece: readings and findings for `judge`.

    decision: how the line and the label's number compare; None without either.
    asks: what is in doubt, worked out from the reading alone.
    """

    readings: tuple[Reading, ...] = ()
    findings: tuple[Finding, ...] = ()
    decision: Decision | None = None
    asks: tuple[Stretch, ...] = ()


def weigh(  # noqa: PLR0913 - a reading, a number and what is known around it
    seen: Seen | None,
    readings: Sequence[Reading],
    *,
    article: TrackingNumber | None,
    card: str | None,
    others: Mapping[str, str],
    thresholds: Thresholds,
    answers: Mapping[Stretch, str] | None = None,
) -> Weighed:
    """Compare what was seen in the box with the label's number.

    readings: what was read otherwise. article: the label's number, None where it was not
    read. card: the card's own number. others: numbers of other pieces to their names, to be
    named only.
    answers: what a person read in those stretches of the reading's best text.
    """
    if seen is None:
        return Weighed()
    by_shape = (Finding.of(Code.BOX_BY_SHAPE, source=seen.source),) if seen.is_by_shape else ()
    is_read_otherwise = any(one.side is Side.BOX for one in readings)
    if seen.evidence is None:
        why = () if is_read_otherwise else (_why(seen),)
        return Weighed(findings=(*by_shape, *why))
    if article is None:
        allowed, asks = _alone(seen, thresholds)
        return Weighed(readings=allowed, findings=by_shape, asks=asks)
    decision = decide(
        seen.evidence,
        article.text,
        thresholds=thresholds,
        group_sizes=article.family.group_sizes,
        card=card,
        others=others,
        spoiled=seen.spoiled,
        is_by_hand=seen.how is How.HAND,
    )
    allowed, findings = _allowed(seen, decision, article, thresholds, answers or {})
    findings += _other_number(decision, card, others) if not allowed else ()
    keyed = [one for one in readings if one.how is How.KEYED and one.side is Side.BOX]
    if any(one.number.text == article.text for one in keyed):
        allowed, findings = _beside_keyed(allowed, article)
    elif is_read_otherwise:
        findings = findings if allowed else _beside_bars(seen, findings)
        if any(_is_piece_of(line, bars) for line in allowed for bars in readings):
            allowed, findings = (), (*findings, Finding.of(Code.BOX_DOUBTFUL, is_part_of_bars=True))
    return Weighed(
        readings=allowed,
        findings=(*by_shape, *findings),
        decision=decision,
        asks=() if allowed else decision.doubtful,
    )


def still_to_say(findings: tuple[Finding, ...], found: Sequence[Finding]) -> tuple[Finding, ...]:
    """`findings` without a bare "not read" where it has been found out why."""
    if not any(one.code in SPECIFIC for one in found):
        return findings
    return tuple(one for one in findings if one.code != Code.BOX_UNREAD)


def _alone(seen: Seen, thresholds: Thresholds) -> tuple[tuple[Reading, ...], tuple[Stretch, ...]]:
    """Without a label the box is shown where it was read surely; nothing can agree."""
    evidence = seen.evidence
    assert evidence is not None
    asks = doubts(evidence, thresholds, seen.spoiled)
    (log_sure,) = evidence.log_likelihoods([evidence.best])
    if log_sure >= math.log(thresholds.differs_sure) and not seen.spoiled:
        return (_reading(seen, evidence.best, seen.how),), ()
    return (), asks or ()


def _allowed(
    seen: Seen,
    decision: Decision,
    article: TrackingNumber,
    thresholds: Thresholds,
    answers: Mapping[Stretch, str],
) -> tuple[tuple[Reading, ...], tuple[Finding, ...]]:
    """The reading that the decision allows, or why there is none."""
    if decision.verdict is Verdict.DIFFERS and seen.is_over_edge:
        return (), (Finding.of(Code.BOX_OVER_EDGE),)
    is_differing = decision.verdict is Verdict.DIFFERS and not seen.has_bars
    if is_differing and _lacks_a_group(decision.best, article):
        # Not found is not "not there": a group may be hidden, struck out or beyond the box.
        return (), (Finding.of(Code.BOX_GROUP_MISSING),)
    if decision.verdict is not Verdict.UNREAD:
        notes = (_unsure(decision),) if decision.doubtful else ()
        return (_reading(seen, decision.best, seen.how),), notes
    assert seen.evidence is not None
    is_whole = set(seen.spoiled) <= set(places(answers))
    done = answered(seen.evidence, answers, thresholds) if answers and is_whole else None
    if done is not None:
        is_settled = (
            done.text == article.text
            or (
                done.rest >= thresholds.differs_sure
                and _is_far(seen, done.text, article, thresholds)
            )
            or _differ_at(done.text, article.text, done.positions)
        )
        if is_settled:
            return (_reading(seen, done.text, How.PART_KEYED),), ()
    return (), (_in_doubt(decision),)


def _lacks_a_group(text: str, article: TrackingNumber) -> bool:
    """Whether a text is shorter than the label's number by a whole printed group or more."""
    return len(article.text) - len(text) >= max(article.family.group_sizes)


def _reading(seen: Seen, text: str, how: How) -> Reading:
    return Reading(
        side=Side.BOX, how=how, number=identify(text), source=seen.source, quad=_around(seen)
    )


def _around(seen: Seen) -> Quad:
    """The line's place: from its first character to its last."""
    if not seen.digit_quads:
        return seen.box
    return seen.digit_quads[0].through(seen.digit_quads[-1])


def _differ_at(text: str, label: str, positions: Collection[int]) -> bool:
    """Whether a digit that a person read is not the label's."""
    return len(text) == len(label) and any(text[at - 1] != label[at - 1] for at in positions)


def _is_far(seen: Seen, text: str, article: TrackingNumber, thresholds: Thresholds) -> bool:
    """Whether a text is not the label's but for one digit, in one place or more, or beats that one
    by far enough."""
    alike = differ_alike(text, article.text)
    if seen.how is not How.HAND or not alike:
        return True
    assert seen.evidence is not None
    own, free = seen.evidence.log_likelihoods([article.text, text])
    return free - own >= alike * thresholds.differs_one


def _why(seen: Seen) -> Finding:
    assert seen.reason is not None
    return Finding.of(seen.reason.code)


def _beside_keyed(
    allowed: tuple[Reading, ...], article: TrackingNumber
) -> tuple[tuple[Reading, ...], tuple[Finding, ...]]:
    """A person keyed the label's number. What the reader is sure of still counts against it."""
    against = [one for one in allowed if one.number.text != article.text]
    return tuple(one for one in allowed if one not in against), tuple(
        Finding.of(Code.BOX_KEYED_OTHERWISE, number=printed(one.number), how=one.how.value)
        for one in against
    )


def _beside_bars(seen: Seen, findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """The box was read by other means; that its print is unsure is worth a note."""
    if not findings or not seen.has_bars:
        return ()
    return (Finding.of(Code.STRIP_PRINT_UNREAD),)


def _is_piece_of(line: Reading, bars: Reading) -> bool:
    """Whether the line is the first or the last part of what the strip's bars say: the rest of
    the print was not found, which is not to say that it is not there."""
    part, whole = line.number.text, bars.number.text
    if bars.side is not Side.BOX or bars.how is not How.BARCODE or part == whole:
        return False
    return bool(part) and (whole.startswith(part) or whole.endswith(part))


def _unsure(decision: Decision) -> Finding:
    """What may be wrong in a reading that is surely not the label's number."""
    return _of_characters(Code.BOX_DIGITS_UNSURE, decision)


def _in_doubt(decision: Decision) -> Finding:
    """Which characters to look at, or that all are to be keyed."""
    if decision.doubtful:
        return _of_characters(Code.BOX_DIGITS_DOUBTFUL, decision)
    return Finding.of(Code.BOX_DOUBTFUL, is_part_of_bars=False)


def _of_characters(code: Code, decision: Decision) -> Finding:
    return Finding.of(
        code,
        positions=places(decision.doubtful),
        length=len(decision.best),
        is_digits=texts.is_digits(decision.best),
        is_count_open=any(stretch.is_open for stretch in decision.doubtful),
        spoilt=decision.spoiled,
    )


def _other_number(
    decision: Decision, card: str | None, others: Mapping[str, str]
) -> tuple[Finding, ...]:
    """An unsure reading that is some other known number to the digit is said to be so."""
    if not decision.other:
        return ()
    whose = None if decision.other == card else others[decision.other]
    return (Finding.of(Code.BOX_OTHER_NUMBER, whose=whose),)

"""Photos that are not known to belong together: what can be said of them all the same."""

from __future__ import annotations

import math
from collections.abc import Callable

import msgspec

from pairing.audit.run.lot_pieces import numbers_of
from pairing.audit.run.rows import RowMatch
from pairing.findings import Code, Finding
from pairing.judge import sides, weigh
from pairing.judge.box import Thresholds
from pairing.model import Judgment, Role, Side, TrackingNumber, Verdict
from pairing.numbers import printed
from pairing.numbers.text import is_digits
from pairing.pieces import office_rules
from pairing.pieces.reading import PieceReadings

_SHORTEST_WHOLE = 19
"""Characters of a text that lacks no printed group of a label's number (20 digits in groups of
four): a shorter one may have been cut."""


def apart(
    piece: PieceReadings,
    match: RowMatch | None,
    found: tuple[Finding, ...],
    would: Callable[[], Judgment] | None,
    *,
    by_order: bool = False,
) -> tuple[RowMatch | None, Judgment]:
    """The judgment of a label and a card that may not belong together: only the numbers.

    found: what the match says. would: where the two probably belong together, what their judgment
    would be; then the match comes back with its verdict, and that a group or more of the label's
    number was not found in the box is said. by_order: by the order of the lot's numbers.
    """
    article, card = numbers_of(piece)
    if would is not None and match is not None:
        together = would()
        verdict = together.verdict
        is_short = any(one.code is Code.BOX_GROUP_MISSING for one in together.findings)
        is_sure = all(one.code is not Code.MATCH_IN_DOUBT for one in found)
        # At lower odds than a match asks for, only a difference is worth a look.
        if is_sure or is_short or verdict is Verdict.DIFFERS:
            match = msgspec.structs.replace(match, would=verdict)
            rest = tuple(one for one in found if one.code is not Code.MATCH_IN_DOUBT)
            if is_short and all(one.code is not Code.BOX_GROUP_MISSING for one in rest):
                rest = (Finding.of(Code.BOX_GROUP_MISSING), *rest)
            found = (_probable(match, verdict, by_order=by_order), *rest)
    judgment = Judgment(
        verdict=Verdict.UNREAD,
        article=article,
        card=card,
        written=None,
        written_by=None,
        findings=found,
    )
    return match, judgment


def of_no_label(piece: PieceReadings, thresholds: Thresholds) -> tuple[Finding, ...]:
    """That the card's box surely holds no number that a label can have, or less than one."""
    readings = tuple(one for one in piece.readings if one.side is not Side.LABEL)
    card = sides.card(readings).number
    weighed = weigh(
        piece.seen,
        readings,
        article=None,
        card=card.text if card else None,
        others={},
        thresholds=thresholds,
        answers={},
    )
    box = sides.box((*readings, *weighed.readings))
    texts = {one.number.text for one in box.readings}
    if len(texts) != 1 or box.findings or weighed.findings:
        return ()
    (text,) = texts
    known = office_rules.identified(text)
    if len(text) < _SHORTEST_WHOLE:
        # What has digits alone has 20 and more on a label, unless an office's rule says otherwise.
        is_part = is_digits(text) and not isinstance(known, TrackingNumber)
        is_part = is_part and not office_rules.chosen()
        return (Finding.of(Code.BOX_GROUP_MISSING),) if is_part else ()
    if not isinstance(known, TrackingNumber):
        return (Finding.of(Code.BOX_NO_ARTICLE, why=f"{printed(text)} is no such number"),)
    if known.role is Role.ARTICLE:
        return ()
    return (Finding.of(Code.BOX_NO_ARTICLE, why=f"it is a {known.family.title}"),)


def _probable(match: RowMatch, would: Verdict, *, by_order: bool) -> Finding:
    odds = round(math.exp(min(match.margin_log_odds, 27)))
    other = printed(match.next) or None
    code = Code.MATCHED_BY_ORDER if by_order else Code.MATCHED_BY_BOX
    return Finding.of(code, odds=odds, other=other, would=would.value)

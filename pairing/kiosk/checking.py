"""One piece checked for other software, with or without recording it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

from pairing.desk.answers import Answer, Finished
from pairing.desk.counter import Counter
from pairing.desk.in_hand import InHand
from pairing.desk.lookup import Lookup
from pairing.desk.rules import DECLARED, Collected, Taken
from pairing.errors import EntryRefused, LedgerUnusable
from pairing.kiosk import shapes
from pairing.kiosk.messages import Checked, Offer
from pairing.kiosk.refusals import Refused
from pairing.kiosk.sessions import not_recorded
from pairing.ledger import Ledger
from pairing.model import Judgment, Side
from pairing.wedge import WedgeSetup


def checked(ledger: Ledger, offered: Offer, setup: WedgeSetup) -> Checked:
    """The verdict, with what the ledger knows; nothing is recorded. Raises Refused."""
    try:
        lookup = Lookup(ledger, lambda: datetime.now(UTC))
        piece, _ = _collected(lookup, offered, setup)
        judgment = lookup.judged(piece.readings, piece.found)
    except LedgerUnusable as error:
        raise not_recorded() from error
    return _answer(judgment, None)


def recorded(ledger: Ledger, offered: Offer, setup: WedgeSetup) -> Checked:
    """The verdict, recorded. Raises Refused; then nothing was recorded."""
    try:
        # Tried dry first: what would finish more than one piece must not record the first.
        lookup = Lookup(ledger, lambda: datetime.now(UTC))
        _, finishing = _collected(lookup, offered, setup)
        counter = Counter(
            ledger,
            desk=offered.desk,
            operator=offered.operator,
            setup=setup,
            rules=DECLARED,
            may_confirm=False,
        )
        finished = _finished(counter, offered, finishing)
    except LedgerUnusable as error:
        raise not_recorded() from error
    except EntryRefused as error:
        raise Refused(
            status=409, code="key-reused", message=f"{error.what}.", action=error.remedy
        ) from error
    if finished.outcome is None:
        raise not_recorded()
    return _answer(finished.judgment, finished)


def _collected(lookup: Lookup, offered: Offer, setup: WedgeSetup) -> tuple[Collected, int]:
    """The one piece, and the step that finishes it."""
    hand = InHand(setup, lookup.placed, DECLARED)
    found: list[tuple[Collected, int]] = []
    steps = list(_steps(offered))
    for index, step in enumerate(steps):
        found += [(piece, index) for piece in step.collect(hand).done]
    found += [(piece, len(steps)) for piece in hand.finish()]
    if len(found) != 1:
        raise Refused(
            status=422,
            code="not-one-piece" if found else "nothing-read",
            message=f"These scans are {len(found)} pieces; one is checked at a time.",
            action="Send what was read on one piece: label, card and box.",
        )
    return found[0]


def _finished(counter: Counter, offered: Offer, finishing: int) -> Finished:
    given: list[Finished] = []
    steps = list(_steps(offered))
    for index, step in enumerate(steps):
        given += step.offer(counter, offered.key if index == finishing else "").finished
    given += counter.finish(key=offered.key if finishing == len(steps) else "").finished
    return given[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Step:
    """One call, the same at a dry collecting and at a counter."""

    collect: Callable[[InHand], Taken]
    offer: Callable[[Counter, str], Answer]


def _steps(offered: Offer) -> Iterator[_Step]:
    for text in offered.scans if isinstance(offered.scans, list) else ():
        yield _Step(
            collect=lambda one, text=text: one.scan(text),  # type: ignore[misc]
            offer=lambda one, key, text=text: one.scan(text, key=key),  # type: ignore[misc]
        )
    if offered.strip.strip():
        yield _Step(
            collect=lambda one: one.strip(offered.strip),
            offer=lambda one, key: one.strip(offered.strip, key=key),
        )
    if offered.box.strip():
        yield _Step(
            collect=lambda one: one.key(Side.BOX, offered.box),
            offer=lambda one, key: one.key(Side.BOX, offered.box, key=key),
        )


def _answer(judgment: Judgment, finished: Finished | None) -> Checked:
    outcome = finished.outcome if finished else None
    return Checked(
        piece=shapes.piece(judgment),
        entry=shapes.entry(outcome.entry) if outcome else None,
        is_repeated=bool(outcome and outcome.is_repeated),
        may_seal=bool(outcome and outcome.may_seal),
    )

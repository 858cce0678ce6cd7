"""Cards that came back, taken on the operator's page: as `counterfoil returned` does at a desk."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import date, datetime
from typing import Any

from pairing.desk.card_session import CardSession, ReadCard
from pairing.desk.for_whom import described
from pairing.desk.returns import CardResult, take_back
from pairing.desk.words import Arrived, Word
from pairing.kiosk import shapes
from pairing.kiosk.messages import CameBack
from pairing.kiosk.settings import Settings
from pairing.ledger import Ledger
from pairing.numbers import printed
from pairing.numbers.text import is_digits
from pairing.pieces import office_rules


class ReturnedCards:
    """Takes cards one at a time. The same card given again, after one that differed, puts that
    slip right (`desk.returns.take_back`). today: the desk's day."""

    def __init__(
        self,
        ledger: Ledger,
        settings: Settings,
        today: Callable[[], date] = lambda: datetime.now().astimezone().date(),
    ) -> None:
        self._ledger = ledger
        self._settings = settings
        self._today = today
        self._last: CardResult | None = None
        self._turn = threading.Lock()

    def take(self, given: CameBack) -> dict[str, Any]:
        """Record a card; what it is worth. Raises LedgerUnusable."""
        read = self._read(given)
        if read is None:
            return {"verdict": "unread", "entry": None, "findings": [], "about": "", "days": None}
        with self._turn:
            result = take_back(
                self._ledger,
                read,
                desk=self._settings.desk,
                operator=self._settings.operator,
                today=self._today(),
                last=self._last,
                only_notes=self._settings.only_notes,
            )
            self._last = result
        return _shown(self._ledger, result)

    def _read(self, given: CameBack) -> ReadCard | None:
        """The card with what was said of it; None where nothing was read on it."""
        setup = office_rules.wedge_setup(self._settings.gs)
        session = CardSession(setup, self._today)
        own = given.card.strip()
        # A page cannot tell digits that are typed from digits that are scanned.
        if is_digits(own.replace(" ", "")):
            session.take(f"{Word.CARD} {own}", arrived=Arrived.TYPED)
        elif own:
            session.take(own, arrived=Arrived.SCANNED)
        if given.box.strip():
            session.take(f"{Word.BOX} {given.box}", arrived=Arrived.TYPED)
        if given.is_signed is not None:
            word = f"{Word.SIGNED} {given.signed}" if given.is_signed else Word.UNSIGNED.value
            session.take(word, arrived=Arrived.TYPED)
        if given.name.strip():
            session.take(f"{Word.NAME} {given.name}", arrived=Arrived.TYPED)
        cards = session.close().cards
        return cards[0] if cards else None


def _shown(ledger: Ledger, result: CardResult) -> dict[str, Any]:
    piece = result.piece
    about = ledger.about([piece.sequence]).get(piece.sequence, {}) if piece else {}
    return {
        "verdict": result.verdict.value,
        "entry": result.outcome.entry.sequence if result.outcome else None,
        "card": printed(result.card) if result.card else "",
        "findings": [shapes.finding(one) for one in result.findings],
        "about": described(about),
        "days": result.days,
    }

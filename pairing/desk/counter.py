"""The counter: a session whose pieces are recorded, each verdict on the disk before it is given.

Several counters share a `Ledger`. The words about the record (void, correct, note, ...) are here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from pairing.desk import commands
from pairing.desk.answers import Answer
from pairing.desk.days import count_of
from pairing.desk.remarks import Remark, Say
from pairing.desk.session import Session
from pairing.desk.words import Word, Work
from pairing.errors import LedgerUnusable
from pairing.ledger import Draft, Entry, Kind, Ledger, Outcome


class Counter(Session):
    """A session with a ledger; see `Session` for the rest of what it takes."""

    work = Work.COUNTER

    def __init__(
        self,
        ledger: Ledger,
        *,
        desk: str,
        operator: str,
        clock: Callable[[], datetime] = lambda: datetime.now(UTC),
        **how: Any,
    ) -> None:
        super().__init__(ledger, desk=desk, operator=operator, clock=clock, **how)
        self._ledger = ledger
        self._clock = clock

    @property
    def correcting(self) -> int | None:
        """The sequence of the entry that the piece in hand is read again for."""
        return self._correcting.sequence if self._correcting else None

    def _of_desk(self, word: Word, text: str, key: str) -> Answer:
        try:
            return self._recorded(word, text.strip(), key)
        except LedgerUnusable as problem:
            return replace(self._nothing(), trouble=str(problem))

    def _recorded(self, word: Word, text: str, key: str) -> Answer:
        match word:
            case Word.RETRY:
                return self._retry()
            case Word.COUNT:
                count = count_of(self._ledger, desk=self.desk, now=self._clock())
                return replace(self._nothing(), count=count)
            case Word.CORRECT:
                return self._correct(text)
            case Word.HANDOVER:
                return self._hand_over(text, key)
            case Word.VOID:
                draft = commands.void(self._ledger, text)
            case Word.NOTE:
                draft = commands.note(text)
            case _:
                return self._nothing()
        if isinstance(draft, Remark):
            return self._nothing(draft)
        return replace(self._nothing(), recorded=self._append(draft, key))

    def _append(self, draft: Draft, key: str) -> Outcome:
        return self._ledger.append(replace(draft, desk=self.desk, operator=self.operator, key=key))

    def _retry(self) -> Answer:
        finished = self._recorder.again()
        remarks = () if finished else (Remark(code=Say.RECORDED),)
        return replace(self._nothing(*remarks), finished=finished)

    def _correct(self, text: str) -> Answer:
        if not self.is_idle:
            return self._nothing(Remark(code=Say.FINISH_FIRST))
        found = commands.piece_entry(self._ledger, text) if text else self._recorder.last
        if not isinstance(found, Entry):
            return self._nothing(found or Remark(code=Say.CORRECT_WHICH))
        found = commands.piece_read_again(self._ledger, found)
        self._correcting, self._is_stopped = found, False
        return self._nothing(Remark(code=Say.CORRECTING, entry=found.sequence))

    def _hand_over(self, text: str, key: str) -> Answer:
        if not text or not self.is_idle:
            return self._nothing(Remark(code=Say.FINISH_FIRST if text else Say.HANDOVER_TO_WHOM))
        draft = Draft(
            kind=Kind.NOTE,
            desk="",
            operator="",
            remark=f"Handed over from {self.operator} to {text}.",
        )
        outcome = self._append(draft, key)
        self.operator = text
        said = Remark(code=Say.HANDED_OVER, text=text)
        return replace(self._nothing(said), recorded=outcome)

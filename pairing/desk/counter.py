"""The counter: a session whose pieces are recorded, each verdict on the disk before it is given.

Several counters share a `Ledger`. The words about the record (void, correct, note, ...) are here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from pairing.desk import commands, dates
from pairing.desk.answers import Answer
from pairing.desk.days import count_of
from pairing.desk.remarks import Remark, Say
from pairing.desk.session import Session
from pairing.desk.unsettled import unsettled
from pairing.desk.words import Arrived, Word, Work, parse_line
from pairing.errors import LedgerUnusable
from pairing.ledger import Draft, Entry, Kind, Ledger, Outcome

_NO = ("no", "n")


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
        self._asked: Draft | Word | None = None
        self._clock = clock

    @property
    def correcting(self) -> int | None:
        """The sequence of the entry that the piece in hand is read again for."""
        return self._correcting.sequence if self._correcting else None

    def take(self, line: str, *, arrived: Arrived = Arrived.PIPED, key: str = "") -> Answer:
        """Take one line. A question stands until the next line: yes, or anything else."""
        asked, self._asked = self._asked, None
        said = parse_line(line, arrived)
        if asked is None or arrived is Arrived.EVEN or not line.strip():
            return super().take(line, arrived=arrived, key=key)
        if said.word is Word.YES:
            return self._confirmed(asked, key)
        if said.text.strip().lower() in _NO:
            return self._nothing(Remark(code=Say.NOT_DONE))
        answer = super().take(line, arrived=arrived, key=key)
        if answer.asks:
            return answer
        return replace(answer, remarks=(Remark(code=Say.NOT_DONE), *answer.remarks))

    def say(self, word: Word, text: str = "", *, key: str = "") -> Answer:
        """A word and what follows it; `end` asks where stopped pieces are not settled."""
        if word is Word.END and self._is_live:
            left = self.unsettled_here()
            if left:
                self._asked = word
                asked = Remark(code=Say.END_ASKED, count=len(left))
                answer = replace(self._nothing(asked), unsettled=left)
                return replace(answer, word=word, asks=True)
        return super().say(word, text, key=key)

    def unsettled_here(self) -> tuple[Entry, ...]:
        """Pieces stopped at this desk today and not settled since; none where the ledger cannot
        be read."""
        since, _ = dates.span(dates.day_of(self._clock()))
        try:
            found = unsettled(self._ledger, since=since)
        except LedgerUnusable:
            return ()
        return tuple(one for one in found if one.desk == self.desk)

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
                return self._void(text, key)
            case Word.YES:
                return self._nothing(Remark(code=Say.NOTHING_ASKED))
            case Word.SETTLED:
                draft = commands.settle(self._ledger, text)
            case Word.NOTE:
                draft = commands.note(text)
            case _:
                return self._nothing()
        if isinstance(draft, Remark):
            return self._nothing(draft)
        return replace(self._nothing(), recorded=self._append(draft, key))

    def _void(self, text: str, key: str) -> Answer:
        """Asked first where somebody sees the question; a file of lines answers nothing."""
        draft = commands.void(self._ledger, text)
        if isinstance(draft, Remark):
            return self._nothing(draft)
        entry = self._ledger.entry(draft.refers or 0)
        assert entry is not None
        label = self.in_hand[0]
        is_hidden = label is not None and label.text == entry.article
        which = commands.described(entry, is_label_hidden=is_hidden)
        self._recorder.shown.add((which,))

        if not self._is_live:
            said = Remark(code=Say.VOIDING, entry=entry.sequence, text=which)
            return replace(self._nothing(said), recorded=self._append(draft, key))
        self._asked = draft
        asked = Remark(code=Say.VOID_ASKED, entry=entry.sequence, text=which)
        return replace(self._nothing(asked), asks=True)

    def _confirmed(self, asked: Draft | Word, key: str) -> Answer:
        """What was asked about is done."""
        if isinstance(asked, Word):
            return super().say(asked, key=key)
        try:
            return replace(self._nothing(), recorded=self._append(asked, key), word=Word.VOID)
        except LedgerUnusable as problem:
            return replace(self._nothing(), trouble=str(problem), word=Word.VOID)

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

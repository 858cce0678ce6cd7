"""The counter: a session whose pieces are recorded, each verdict on the disk before it is given.

Several counters share a `Ledger`. The words about the record (void, correct, note, ...) are here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from pairing.desk import commands, dates, whom_said
from pairing.desk.answers import Advice, Answer
from pairing.desk.days import count_of
from pairing.desk.for_whom import Asked, Field, cleaned
from pairing.desk.remarks import Remark, Say
from pairing.desk.rules import Taken
from pairing.desk.session import Session
from pairing.desk.unsettled import unsettled
from pairing.desk.words import Arrived, Word, Work
from pairing.desk.words import parse_line as parse_words
from pairing.errors import LedgerUnusable
from pairing.ledger import Draft, Entry, Kind, Ledger, Outcome
from pairing.model import Side, TrackingNumber
from pairing.wedge import WedgeSetup, parse_line

_YES, _NO = ("y",), ("no", "n")


class Counter(Session):
    """A session with a ledger; see `Session` for the rest of what it takes.

    asked: when it asks for whom a piece is; asks_kind: whether it asks what it is. What is said of
    it goes with the piece in hand, else with the next (asked before) or the last sealed one.
    """

    work = Work.COUNTER

    def __init__(  # noqa: PLR0913 - where, who, and what is asked
        self,
        ledger: Ledger,
        *,
        desk: str,
        operator: str,
        clock: Callable[[], datetime] = lambda: datetime.now(UTC),
        asked: Asked = Asked.NEVER,
        asks_kind: bool = False,
        **how: Any,
    ) -> None:
        super().__init__(ledger, desk=desk, operator=operator, clock=clock, **how)
        self._ledger = ledger
        self._question: Draft | Word | None = None
        self._clock = clock
        self._asked = asked
        self._asks_kind = asks_kind
        self._setup = how.get("setup") or WedgeSetup()
        self._reference_is_next = False

    @property
    def correcting(self) -> int | None:
        """The sequence of the entry that the piece in hand is read again for."""
        return self._correcting.sequence if self._correcting else None

    def take(self, line: str, *, arrived: Arrived = Arrived.PIPED, key: str = "") -> Answer:
        """Take one line. A question is open until the next line: yes, or anything else."""
        question, self._question = self._question, None
        said = parse_words(line, arrived)
        if question is None or arrived is Arrived.EVEN or not line.strip():
            return super().take(line, arrived=arrived, key=key)
        text = said.text.strip().lower()
        if said.word is Word.YES or (text in _YES and arrived is not Arrived.SCANNED):
            return self._confirmed(question, key)
        if text in _NO:
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
                self._question = word
                remark = Remark(code=Say.END_ASKED, count=len(left))
                answer = replace(self._nothing(remark), unsettled=left)
                return replace(answer, word=word, asks=True)
        return super().say(word, text, key=key)

    def unsettled_here(self) -> tuple[Entry, ...]:
        """Pieces stopped at this desk today and not settled since; none where the ledger cannot
        be read."""
        since, _ = dates.span(dates.day_of(self._clock()))
        try:
            found = unsettled(self._ledger, since=since)
            return tuple(one for one in found if one.desk == self.desk)
        except LedgerUnusable:
            return ()

    @property
    def reference_is_next(self) -> bool:
        """Whether the next scan is the office's own reference."""
        return self._reference_is_next

    @property
    def about(self) -> dict[str, str]:
        """What was said of the piece in hand."""
        return dict(self._recorder.about)

    def scan(self, text: str, *, key: str = "") -> Answer:
        """As in `Session`; after `ref` alone a scan is the reference, unless it is the number of
        a label or card."""
        if not self._reference_is_next:
            return super().scan(text, key=key)
        self._reference_is_next = False
        numbers = [one.number for one in parse_line(text, self._setup)]
        if not any(isinstance(one, TrackingNumber) or one.likely for one in numbers):
            return self.say(Word.REF, text, key=key)
        answer = super().scan(text, key=key)
        said = Remark(code=Say.REFERENCE_IS_NUMBER)
        return replace(answer, remarks=(said, *answer.remarks))

    def tell(self, about: Mapping[Field, str], *, of: int | None = None, key: str = "") -> Answer:
        """For whom and why a piece is: the one in hand, else the next one, or the recorded one of
        entry `of`. The number of a label or card is no reference. Raises LedgerUnusable."""
        said = {field.value: cleaned(text) for field, text in about.items() if cleaned(text)}
        asked = ("tell", of, *sorted(said.items()))
        return self._once(key, asked, lambda: self._with_particulars(said, of, key))

    def _with_particulars(self, said: dict[str, str], of: int | None, key: str) -> Answer:
        scans = parse_line(said.get(Field.REFERENCE, ""), self._setup)
        if any(isinstance(one.number, TrackingNumber) for one in scans):
            return self._nothing(Remark(code=Say.REFERENCE_IS_NUMBER))
        right = whom_said.put_right(said)
        if isinstance(right, Remark):
            return self._nothing(right)
        if of is None:
            self._recorder.about |= right
            return self._nothing(Remark(code=self._noted)) if said else self._nothing()
        entry = commands.piece_entry(self._ledger, str(of))
        if isinstance(entry, Remark):
            return self._nothing(entry)
        added = whom_said.addition(entry, right)
        self._append(added, key)
        return self._nothing(*whom_said.remarks_on(added))

    def _forget(self) -> Answer:
        self._recorder.about, self._reference_is_next = {}, False
        return super()._forget()

    def _answer(self, taken: Taken, key: str) -> Answer:
        answer = super()._answer(taken, key)
        return replace(answer, remarks=(*answer.remarks, *self._asking(answer)))

    def _asking(self, answer: Answer) -> Iterator[Remark]:
        """What is asked of a piece, where nobody has said so."""
        if self._asked is Asked.AFTER:
            for one in answer.finished:
                entry = one.entry
                if one.advice is not Advice.SEAL or entry is None:
                    continue
                if not whom_said.is_told(self._ledger, entry):
                    yield Remark(code=Say.FOR_WHOM_ENTRY, entry=entry.sequence)
        is_label = any(one.side is Side.LABEL and one.counts for one in answer.heard)
        is_done = any(one.code is Say.SEALED_BEFORE for one in answer.remarks)
        asks = self._asked is Asked.BEFORE or self._asks_kind
        if asks and is_label and not is_done and not answer.finished:
            label, card = self.in_hand
            known = self._ledger.declared(article=label.text if label else None, card=card)
            known |= self._recorder.about
            yield from whom_said.questions(known, self._asked, asks_kind=self._asks_kind)

    def _say_of(self, word: Word, text: str, key: str) -> Answer:
        """For whom and why a piece is."""
        said = cleaned(text)
        if not said and word is Word.REF:
            self._reference_is_next = True
            return self._nothing(Remark(code=Say.REFERENCE_NEXT))
        if not said:
            return self._nothing(Remark(code=Say.NUMBER_MISSING, text=word.value))
        about = whom_said.put_right({whom_said.FIELDS[word].value: said})
        if isinstance(about, Remark):
            return self._nothing(about)
        (said,), done = about.values(), self._last_done()
        if done is None:
            self._recorder.about |= about
            return self._nothing(Remark(code=self._noted, text=said))
        added = whom_said.addition(done, about)
        self._append(added, key)
        return self._nothing(*whom_said.remarks_on(added, said))

    @property
    def _noted(self) -> Say:
        return Say.FOR_WHOM_NEXT if self.is_idle else Say.FOR_WHOM_TAKEN

    def _last_done(self) -> Entry | None:
        """The entry of the piece that was finished last, where what is said now is said of it;
        None where it is said of the piece in hand or the next one."""
        last = self._recorder.last
        is_next = self._asked is Asked.BEFORE and not self._is_stopped
        if last is None or not self.is_idle or is_next or self._correcting is not None:
            return None
        if last.kind is Kind.CORRECTED:
            return self._ledger.entry(last.refers or 0)
        return last if last.article or last.card else None

    def _of_desk(self, word: Word, text: str, key: str) -> Answer:
        try:
            return self._recorded(word, text.strip(), key)
        except LedgerUnusable as problem:
            return replace(self._nothing(), trouble=str(problem))

    def _recorded(self, word: Word, text: str, key: str) -> Answer:
        self._reference_is_next = False
        match word:
            case Word.TO | Word.ADDRESS | Word.REF | Word.SERVICE | Word.FEE | Word.PIECE:
                return self._say_of(word, text, key)
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
        self._question = draft
        remark = Remark(code=Say.VOID_ASKED, entry=entry.sequence, text=which)
        return replace(self._nothing(remark), asks=True)

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

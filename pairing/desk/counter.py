"""The counter: entries in, answers out, each verdict on the disk before it is given.

One `Counter` is one place where pieces are scanned: a terminal, or one open page. Several
share a `Ledger`. What is typed or scanned comes as lines (`take`) or as calls.
"""

from __future__ import annotations

import secrets
import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime

from pairing.desk import commands
from pairing.desk.answers import Answer
from pairing.desk.collecting import Collecting, Taken
from pairing.desk.days import count_of
from pairing.desk.lookup import Lookup
from pairing.desk.recorder import Offer, Recorder
from pairing.desk.remembered import Asked, Remembered
from pairing.desk.words import Arrived, Word, parse_line
from pairing.errors import LedgerUnusable
from pairing.ledger import Draft, Entry, Kind, Ledger, Outcome
from pairing.model import CheckRule, Reading, Side, TrackingNumber
from pairing.wedge import WedgeSetup

_DEFAULT = WedgeSetup()
_REMEMBERED = 256
"""Answers kept for entries that are offered again: more than a page can have under way."""


class Counter:
    """A place where pieces are scanned, with one piece in hand at a time.

    A piece is finished when label, card and box are read, at `next`, at the end, and when
    the label or card of another one comes too early. Threads take turns.

    Every entry may carry a key. Offered again with it the entry gives the same answer and
    records nothing twice; after a restart too, where the whole piece is offered again.
    Another entry with a known key raises KeyReused.
    """

    def __init__(  # noqa: PLR0913 - where, who, and how
        self,
        ledger: Ledger,
        *,
        desk: str,
        operator: str,
        setup: WedgeSetup = _DEFAULT,
        clock: Callable[[], datetime] = lambda: datetime.now(UTC),
        remembered: int = _REMEMBERED,
    ) -> None:
        self._ledger = ledger
        self._clock = clock
        self._lookup = Lookup(ledger, clock)
        self._collecting = Collecting(setup, self._lookup.placed)
        self._recorder = Recorder(ledger, self._lookup)
        self._correcting: Entry | None = None
        self._remembered = Remembered(remembered)
        self._turn = threading.RLock()
        self.desk = desk
        self.operator = operator

    @property
    def missing(self) -> tuple[Side, ...]:
        """The sides of the piece in hand that are not read yet."""
        return self._collecting.missing()

    @property
    def is_idle(self) -> bool:
        """Whether no piece is in hand."""
        return self._collecting.is_empty

    @property
    def correcting(self) -> int | None:
        """The sequence of the entry that the piece in hand is read anew for."""
        return self._correcting.sequence if self._correcting else None

    @property
    def unrecorded(self) -> int:
        """How many finished pieces wait to be recorded."""
        return self._recorder.waiting

    @property
    def in_hand(self) -> tuple[TrackingNumber | None, str | None]:
        """Label and card in hand, for the records alone: the label's is not to be shown."""
        return self._collecting.label, self._collecting.card

    @property
    def was_shown(self) -> bool:
        """Whether the number of the label in hand was given out before, while its box is still
        to be read: a screen that may still show it has to be cleared."""
        label = self._collecting.label
        if label is None or Side.BOX not in self.missing:
            return False
        return self._recorder.shown.has(label.text)

    def screen_cleared(self) -> None:
        """Say that no number of an earlier piece is on the screen any more."""
        self._recorder.shown.clear()

    @property
    def may_lack_card_number(self) -> bool:
        """Whether the label in hand is of a kind whose card (CN 07) has no number of its own:
        `next` ends such a piece."""
        label = self._collecting.label
        return label is not None and label.check_rule is CheckRule.S10_MOD11

    def take(self, line: str, *, arrived: Arrived = Arrived.PIPED, key: str = "") -> Answer:
        """Take one line: a scan, or a word with what follows it (`words.Word`)."""
        if arrived is Arrived.SCANNED and parse_line(line).word is not None:
            return self._nothing("That came too fast to be typed: words are not scanned or pasted.")
        said = parse_line(line, arrived)
        if arrived is Arrived.MIXED and said.word in (Word.BOX, Word.LABEL, Word.CARD):
            return self._nothing(
                f"What followed {said.word} was not typed. Key what stands there, digit by digit."
            )
        if arrived is Arrived.TYPED and said.word is Word.STRIP and said.text.strip():
            return self._nothing("That was typed. Type strip alone, then scan; or box NUMBER.")
        if said.word is not None:
            return self.say(said.word, said.text, key=key)
        if arrived is Arrived.TYPED and said.text.strip():
            return self._unnamed(said.text)
        return self.scan(said.text, key=key)

    def scan(self, text: str, *, key: str = "") -> Answer:
        """Take what a scanner sent; usually one scan, told by its number's form."""
        return self._take(key, ("scan", text), lambda: self._collecting.scan(text))

    def strip(self, text: str = "", *, key: str = "") -> Answer:
        """Take the scan of the strip in the box; without a text the next scan is it."""
        # Offered again it may come as a scan like any other.
        return self._take(key, ("scan", text), lambda: self._collecting.strip(text))

    def key(self, side: Side, text: str, *, key: str = "") -> Answer:
        """Take what a person keyed as the number on that side (label, card or box)."""
        return self._take(key, (side, text), lambda: self._collecting.key(side, text))

    def see(self, readings: Sequence[Reading], *, key: str = "") -> Answer:
        """Take what was read in one picture; see `photographed` for the readings' sources."""
        return self._take(key, ("see", *readings), lambda: self._collecting.see(readings))

    def finish(self, *, key: str = "") -> Answer:
        """The piece ends here, whatever is missing."""
        return self._once(key, ("finish",), lambda: self._finish(key))

    def forget(self, *, key: str = "") -> Answer:
        """What was read on the piece in hand does not count; it starts anew."""
        return self._once(key, ("forget",), self._forget)

    def say(self, word: Word, text: str = "", *, key: str = "") -> Answer:
        """A word of the counter and what follows it."""
        if word not in (Word.LABEL, Word.STRIP):  # those are typed or scanned unseen
            self._recorder.shown.add((text,))
        match word:
            case Word.BOX | Word.LABEL | Word.CARD:
                answer = self.key(Side(word.value), text, key=key)
            case Word.STRIP:
                answer = self.strip(text, key=key)
            case Word.NEXT | Word.END:
                answer = self.finish(key=key)
            case Word.AGAIN:
                answer = self.forget(key=key)
            case _:
                work = lambda: self._desk_word(word, text.strip(), key)  # noqa: E731
                answer = self._once(key, (word, text), work)
        return replace(answer, word=word)

    def _unnamed(self, text: str) -> Answer:
        """A line that a person typed without a word. What stands on which side is not guessed
        at; a scanner that is set too slow must not key the box."""
        first = text.split(maxsplit=1)[0]
        if first.isalpha() or not any(map(str.isdigit, text)):
            return self._nothing(f"{text.strip()!r} is no word of the counter; type help.")
        return self._nothing(
            "Typed, not scanned. Say what it is: box (or /), label or card, then the number."
        )

    def _finish(self, key: str) -> Answer:
        done = self._collecting.finish()
        remarks: tuple[str, ...] = ()
        if not done and self._correcting is not None:
            self._correcting, remarks = None, ("Nothing is corrected.",)
        return self._answer(Taken(done=done, remarks=remarks), key)

    def _forget(self) -> Answer:
        self._collecting.forget()
        return self._nothing("This piece starts anew.")

    def _answer(self, taken: Taken, key: str) -> Answer:
        finished = []
        for place, piece in enumerate(taken.done):
            own = key or secrets.token_hex(8)
            offer = Offer(
                piece=piece,
                key=f"{own}/{place + 1}" if place else own,
                desk=self.desk,
                operator=self.operator,
                corrects=self._correcting,
            )
            self._correcting = None
            finished.append(self._recorder.record(offer))
        return Answer(
            missing=self.missing,
            heard=taken.heard,
            remarks=taken.remarks,
            finished=tuple(finished),
        )

    def _nothing(self, *remarks: str) -> Answer:
        return Answer(missing=self.missing, remarks=remarks)

    def _take(self, key: str, asked: Asked, collect: Callable[[], Taken]) -> Answer:
        return self._once(key, asked, lambda: self._answer(collect(), key))

    def _once(self, key: str, asked: Asked, work: Callable[[], Answer]) -> Answer:
        with self._turn:
            known = self._remembered.answer(key, asked)
            if known is not None:
                again = tuple(map(self._recorder.as_it_stands, known.finished))
                return replace(known, finished=again)
            if self._recorder.is_waiting(key):
                answer = replace(self._nothing(), finished=self._recorder.again(key))
            else:
                answer = work()
            self._remembered.keep(key, answer)
            return answer

    def _desk_word(self, word: Word, text: str, key: str) -> Answer:
        try:
            return self._desk(word, text, key)
        except LedgerUnusable as problem:
            return replace(self._nothing(), trouble=str(problem))

    def _desk(self, word: Word, text: str, key: str) -> Answer:
        answer = self._nothing()
        match word:
            case Word.RETRY:
                return self._retry()
            case Word.COUNT:
                count = count_of(self._ledger, desk=self.desk, now=self._clock())
                return replace(answer, count=count)
            case Word.CORRECT:
                return self._correct(text)
            case Word.HANDOVER:
                return self._hand_over(text, key)
            case Word.VOID:
                draft = commands.void(self._ledger, text)
            case Word.NOTE:
                draft = commands.note(text)
            case _:
                return answer
        if isinstance(draft, str):
            return replace(answer, remarks=(draft,))
        return replace(answer, recorded=self._append(draft, key))

    def _append(self, draft: Draft, key: str) -> Outcome:
        return self._ledger.append(replace(draft, desk=self.desk, operator=self.operator, key=key))

    def _retry(self) -> Answer:
        finished = self._recorder.again()
        remarks = () if finished else ("Everything is recorded.",)
        return replace(self._nothing(*remarks), finished=finished)

    def _correct(self, text: str) -> Answer:
        if not self.is_idle:
            remark = "Finish the piece in hand first: next, or again and next."
            return self._nothing(remark)
        found = commands.piece_entry(self._ledger, text) if text else self._recorder.last
        if isinstance(found, str) or found is None:
            remark = found or "Say which: correct 12, the number of its entry."
            return self._nothing(remark)
        self._correcting = found
        remark = (
            f"Entry {found.sequence} is read anew: label, card and box from the start. "
            "next leaves it as it is."
        )
        return self._nothing(remark)

    def _hand_over(self, text: str, key: str) -> Answer:
        answer = self._nothing()
        if not text or not self.is_idle:
            remark = (
                "Say to whom: handover NAME." if not text else "Finish the piece in hand first."
            )
            return replace(answer, remarks=(remark,))
        before = self.operator
        outcome = self._append(
            Draft(
                kind=Kind.NOTE, desk="", operator="", remark=f"Handed over from {before} to {text}."
            ),
            key,
        )
        self.operator = text
        return replace(answer, recorded=outcome, remarks=(f"{text} is at this desk now.",))

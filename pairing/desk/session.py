"""A session at a desk: entries in, answers out.

One `Session` is one place where pieces are scanned: a terminal, an open page, a file of scans.
With a `RunBook` nothing is recorded (`check`); `counter.Counter` is the session that records.
"""

from __future__ import annotations

import secrets
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from pairing.desk import vouching
from pairing.desk.answers import STOPS, Advice, Answer
from pairing.desk.book import Book
from pairing.desk.in_hand import InHand
from pairing.desk.lookup import Held, Lookup
from pairing.desk.recorder import Offer, Recorder
from pairing.desk.remarks import Remark, Say
from pairing.desk.repeats import MOST, Asked, Repeats
from pairing.desk.rules import PIECE, Collected, Rules, Taken
from pairing.desk.strip_timer import StripTimer
from pairing.desk.typed import refusal
from pairing.desk.words import Arrived, Word, Work, is_used_in, parse_line
from pairing.findings import Finding
from pairing.ledger import Entry
from pairing.model import Reading, Side
from pairing.wedge import WedgeSetup


class Session:
    """A place where pieces are scanned, one at a time. Threads take turns.

    A piece is finished when label, card and box are read, at `next`, at the end, and when
    the label or card of another one comes too early.

    is_live: somebody sees each answer before the next entry comes. Then a strip that is scanned
    too soon is asked for again, and a stopped piece has to be set aside or started over before
    anything else counts. holds: whether this session sees to the latter, and not its page.
    may_confirm: an operator is there who can vouch for a keyed label.

    Every entry may carry a key. Offered again with it the entry gives the same answer and
    records nothing twice; after a restart too, where the whole piece is offered again.
    Another entry with a known key raises KeyReused.
    """

    work = Work.CHECK

    def __init__(  # noqa: PLR0913 - where, who, and how
        self,
        book: Book,
        *,
        desk: str = "",
        operator: str = "",
        setup: WedgeSetup | None = None,
        rules: Rules = PIECE,
        clock: Callable[[], datetime] = lambda: datetime.now(UTC),
        ticks: Callable[[], float] = time.monotonic,
        remembered: int = MOST,
        is_live: bool = False,
        holds: bool | None = None,
        may_confirm: bool = True,
    ) -> None:
        self._lookup = Lookup(book, clock)
        self._hand = InHand(
            setup or WedgeSetup(),
            self._lookup.placed,
            rules,
            may_confirm=may_confirm,
            is_live=is_live,
        )
        self._recorder = Recorder(book, self._lookup)
        self._repeats = Repeats(remembered)
        self._strip_timer = StripTimer(ticks, is_live=is_live)
        self._is_live = is_live
        self._holds = is_live if holds is None else holds
        self._is_stopped = False
        self._stopped: Collected | None = None
        self._kept_digits = ""
        self._correcting: Entry | None = None
        self._read_at: datetime | None = None
        self._turn = threading.RLock()
        self.desk = desk
        self.operator = operator

    @property
    def missing(self) -> tuple[Side, ...]:
        """The sides of the piece in hand that are not read yet."""
        return self._hand.missing()

    @property
    def is_idle(self) -> bool:
        """Whether no piece is in hand."""
        return self._hand.is_empty

    @property
    def is_stopped(self) -> bool:
        """Whether nothing counts until the stopped piece is set aside or started over."""
        return self._is_stopped

    @property
    def must_confirm(self) -> bool:
        """Whether the piece in hand waits for an operator's word on its keyed label."""
        return not self.missing and self._hand.must_be_confirmed

    @property
    def strip_is_next(self) -> bool:
        """Whether the next scan counts as the strip's."""
        return self._hand.strip_is_next

    @property
    def unrecorded(self) -> int:
        """How many finished pieces wait to be recorded."""
        return self._recorder.waiting

    @property
    def in_hand(self) -> Held:
        """Label and card in hand, for the records alone: never to be shown."""
        return self._hand.label, self._hand.card

    @property
    def was_shown(self) -> bool:
        """Whether a screen may still show the number of the label in hand, whose box is unread."""
        label = self._hand.label
        if label is None or Side.BOX not in self.missing:
            return False
        return self._recorder.shown.has(label.text)

    def screen_cleared(self) -> None:
        """No number of an earlier piece is on the screen any more."""
        self._recorder.shown.clear()

    @property
    def may_lack_card_number(self) -> bool:
        """Whether the card may have no number of its own (CN 07): `next` ends such a piece."""
        return self._hand.may_lack_card_number

    def take(self, line: str, *, arrived: Arrived = Arrived.PIPED, key: str = "") -> Answer:
        """Take one line: a scan, or a word and what follows it."""
        said = parse_line(line, arrived)
        kept, self._kept_digits = self._kept_digits, ""
        if said.word is Word.BOX and not said.text.strip() and kept:
            said = replace(said, text=kept)
        refused = refusal(line, said, arrived)
        if refused is not None:
            self._hand.take_back_strip()  # whoever types has not turned the piece over
            if arrived is Arrived.EVEN:  # it was echoed before it was known
                self._recorder.shown.add((line,))
            return self._nothing(self._with_digits_kept(refused, said.text))
        if said.word is None:
            return self.scan(said.text, key=key)
        return self.say(said.word, said.text, key=key)

    def scan(self, text: str, *, key: str = "") -> Answer:
        """Take what a scanner sent; usually one scan, told by its number's form."""
        if self._hand.strip_is_next:
            return self.strip(text, key=key)
        return self._take(key, ("scan", text), lambda: self._hand.scan(text))

    def strip(self, text: str = "", *, key: str = "") -> Answer:
        """Take the scan of the strip in the box; without a text the next scan is it."""
        # Offered again it may come as a scan like any other.
        return self._take(key, ("scan", text), lambda: self._strip(text, key))

    def take_back_strip(self) -> Answer:
        """The next scan is not the strip's after all."""
        self._hand.take_back_strip()
        return self._nothing()

    def key(self, side: Side, text: str, *, key: str = "") -> Answer:
        """Take what a person keyed as the number on that side (label, card or box)."""
        return self._take(key, (side, text), lambda: self._hand.key(side, text))

    def see(
        self, readings: Sequence[Reading], *, found: Sequence[Finding] = (), key: str = ""
    ) -> Answer:
        """Take what was read in one picture; see `photographed` for the readings' sources.
        found: what all pictures of the piece together say of its card's other fields."""
        if self._is_stopped:  # the stopped piece may still lie before the camera
            return self._nothing()
        return self._take(key, ("see", *readings), lambda: self._hand.see(readings, found))

    def confirm(self, why: str, *, key: str = "") -> Answer:
        """The operator vouches for the label's number, which was keyed."""
        who, why = self.operator or "The operator", why.strip()
        return self._take(key, (Word.CONFIRM, why), lambda: self._hand.confirm(who, why))

    def vouch(self, word: Word, *, key: str = "") -> Answer:
        """The operator says that a piece belongs on no list (UNLISTED), or that its card has
        no number (NONUMBER): of the piece in hand, or of the one that was just stopped."""
        return self._once(key, (word,), lambda: self._vouched(word, key))

    def finish(self, *, key: str = "") -> Answer:
        """The piece ends here, whatever is missing; a stopped one is set aside."""
        return self._once(key, ("finish",), lambda: self._finish(key))

    def forget(self, *, key: str = "") -> Answer:
        """What was read on the piece in hand does not count; it is started over."""
        return self._once(key, ("forget",), self._forget)

    def say(self, word: Word, text: str = "", *, key: str = "") -> Answer:
        """A word and what follows it."""
        if word not in (Word.LABEL, Word.STRIP):  # those are typed or scanned unseen
            self._recorder.shown.add((text,))
        if word is not Word.STRIP:  # whoever does something else has not turned the piece over
            self._hand.take_back_strip()
        if not is_used_in(word, self.work):
            return replace(self._nothing(Remark(code=Say.WORD_ELSEWHERE, text=word)), word=word)
        match word:
            case Word.BOX | Word.LABEL | Word.CARD:
                answer = self.key(Side(word.value), text, key=key)
            case Word.STRIP:
                answer = self.strip(text, key=key)
            case Word.CONFIRM:
                answer = self.confirm(text, key=key)
            case Word.UNLISTED | Word.NONUMBER:
                answer = self.vouch(word, key=key)
            case Word.NEXT | Word.ASIDE | Word.END:
                answer = self.finish(key=key)
                if word is Word.ASIDE and not (answer.finished or answer.remarks):
                    answer = self._nothing(Remark(code=Say.SET_ASIDE))
            case Word.AGAIN:
                answer = self.forget(key=key)
            case _:
                answer = self._once(key, (word, text), lambda: self._of_desk(word, text, key))
        return replace(answer, word=word)

    def _of_desk(self, word: Word, text: str, key: str) -> Answer:
        """A word that is about the record and not about the piece in hand."""
        return self._nothing()

    def _strip(self, text: str, key: str) -> Taken:
        if not text.strip():
            self._strip_timer.start()
        # Offered again after it was recorded, it comes all at once with the piece's other entries.
        elif (
            self._hand.strip_is_next
            and not self._recorder.has_recorded(key)
            and self._strip_timer.is_too_soon()
        ):
            return Taken(remarks=(Remark(code=Say.STRIP_TOO_SOON),))
        return self._hand.strip(text)

    def _with_digits_kept(self, refused: Remark, text: str) -> Remark:
        """Digits typed without a word are kept for one key, where they can only be the box's."""
        if refused.code is Say.UNNAMED and self._hand.is_only_box_missing:
            self._kept_digits = text
            return Remark(code=Say.UNNAMED_KEPT)
        return refused

    def _vouched(self, word: Word, key: str) -> Answer:
        """A stopped piece is judged once more, from the same readings, with what is said."""
        was_stopped = self._is_stopped
        if was_stopped and self._stopped is not None:
            self._hand.take_up(self._stopped)
        remark = vouching.objection(word, self._hand, self._lookup)
        if remark is None:
            said = Finding.of(vouching.CODES[word], operator=self.operator or "The operator")
            done = self._hand.vouch(said)
            return self._answer(Taken(done=done, remarks=(Remark(code=vouching.SAID[word]),)), key)
        if was_stopped:
            self._hand.forget()
        return self._nothing(remark)

    def _finish(self, key: str) -> Answer:
        if self._is_stopped:
            self._is_stopped, self._stopped = False, None
            return self._nothing(Remark(code=Say.SET_ASIDE))
        self._stopped = None
        done = self._hand.finish()
        remarks: tuple[Remark, ...] = ()
        if not done and self._correcting is not None:
            self._correcting, remarks = None, (Remark(code=Say.NOTHING_CORRECTED),)
        answer = self._answer(Taken(done=done, remarks=remarks), key)
        # Whoever ends a piece that is not read knows that it is not; a difference is news.
        differs = any(one.advice is Advice.DO_NOT_SEAL for one in answer.finished)
        self._is_stopped = self._is_stopped and differs
        return replace(answer, is_stopped=self._is_stopped)

    def _forget(self) -> Answer:
        self._hand.forget()
        self._read_at = None
        self._is_stopped, self._stopped = False, None
        return self._nothing(Remark(code=Say.STARTED_OVER))

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
                read_at=self._read_at or self._lookup.now(),
                has_waited=self._read_at is not None,
            )
            self._correcting = self._read_at = None
            finished.append(self._recorder.record(offer))
        is_stop = any(one.advice in STOPS for one in finished)
        self._is_stopped = self._holds and is_stop
        self._stopped = taken.done[-1] if is_stop and len(taken.done) == 1 else None
        return Answer(
            missing=self.missing,
            heard=taken.heard,
            remarks=taken.remarks,
            is_stopped=self._is_stopped,
            finished=tuple(finished),
        )

    def was_read(self, waited_s: float) -> None:
        """What comes now for the piece in hand is a reading that waited for so long, since the
        service that took it is gone: what other desks said of it meanwhile holds against it."""
        self._read_at = self._lookup.now() - timedelta(seconds=waited_s)

    def _nothing(self, *remarks: Remark) -> Answer:
        return Answer(missing=self.missing, remarks=remarks, is_stopped=self._is_stopped)

    def _take(self, key: str, asked: Asked, collect: Callable[[], Taken]) -> Answer:
        def work() -> Answer:
            if self._is_stopped:
                return self._nothing(Remark(code=Say.STOPPED))
            before = self.in_hand
            taken = collect()
            known = self._lookup.remarks_on_new(before, self.in_hand, but=self._correcting)
            asked_for = (Remark(code=Say.LABEL_UNCONFIRMED),) if self.must_confirm else ()
            remarks = (*taken.remarks, *known, *asked_for)
            return self._answer(replace(taken, remarks=remarks), key)

        return self._once(key, asked, work)

    def _once(self, key: str, asked: Asked, work: Callable[[], Answer]) -> Answer:
        with self._turn:
            known = self._repeats.answer(key, asked)
            if known is not None:
                again = tuple(map(self._recorder.as_it_stands, known.finished))
                return replace(known, finished=again)
            if self._recorder.is_waiting(key):
                answer = replace(self._nothing(), finished=self._recorder.again(key))
            else:
                answer = work()
            self._repeats.keep(key, answer)
            return answer

"""Lines at the desk for returned cards become cards: the same words as at the counter, and two
more, for date and name."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from pairing.desk.arrivals import Heard
from pairing.desk.in_hand import InHand
from pairing.desk.remarks import Remark, Say
from pairing.desk.rules import RETURNED, Collected, Taken
from pairing.desk.typed import refusal
from pairing.desk.words import Arrived, Word, Work, is_used_in, parse_line
from pairing.findings import Finding
from pairing.judge.box import Seen, Thresholds
from pairing.model import Reading, Side
from pairing.wedge import WedgeSetup

_DEFAULT = WedgeSetup()


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadCard:
    """What was read on one returned card.

    readings: of the sides CARD and BOX; others count for nothing. found: what was found while
    reading. signed, name: as given. photos: source of a reading to the photo's SHA-256.
    seen: writing or print in the box, read blind from a photo; thresholds: for weighing it.
    """

    readings: tuple[Reading, ...]
    found: tuple[Finding, ...] = ()
    signed: date | None = None
    name: str = ""
    photos: dict[str, str] = field(default_factory=dict)
    seen: Seen | None = None
    thresholds: Thresholds | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CardAnswer:
    """What came of one line. word: the word, if it was one. cards: those that it finished."""

    word: Word | None = None
    heard: tuple[Heard, ...] = ()
    remarks: tuple[Remark, ...] = ()
    cards: tuple[ReadCard, ...] = ()


class CardSession:
    """Takes lines, gives cards. A card ends with `next`, a blank line, the next card's scan,
    or the end."""

    def __init__(
        self,
        setup: WedgeSetup = _DEFAULT,
        today: Callable[[], date] = lambda: datetime.now().astimezone().date(),
    ) -> None:
        self._today = today
        self._hand = InHand(setup, lambda reading: reading, RETURNED)
        self._signed: date | None = None
        self._name = ""

    @property
    def is_empty(self) -> bool:
        """Whether nothing was read on the card in hand."""
        return self._hand.is_empty

    def take(self, line: str, *, arrived: Arrived = Arrived.PIPED) -> CardAnswer:
        """Take one line; the cards that it finished."""
        said = parse_line(line, arrived)
        if not line.strip():
            return self.close()
        refused = refusal(line, said, arrived)
        if refused is not None:
            return CardAnswer(remarks=(refused,))
        if said.word is not None and not is_used_in(said.word, Work.RETURNED):
            remark = Remark(code=Say.WORD_ELSEWHERE, text=said.word.value)
            return CardAnswer(word=said.word, remarks=(remark,))
        text = said.text.strip()
        match said.word:
            case None:
                return self._answer(None, self._hand.scan(said.text))
            case Word.NEXT | Word.END:
                return self.close()
            case Word.AGAIN:
                self._forget()
                return CardAnswer(word=said.word, remarks=(Remark(code=Say.STARTED_OVER),))
            case Word.STRIP:
                return self._answer(said.word, self._hand.strip(text))
            case Word.BOX | Word.CARD:
                return self._answer(said.word, self._hand.key(Side(said.word.value), text))
            case Word.SIGNED | Word.NAME if not text:
                remark = Remark(code=Say.NUMBER_MISSING, text=said.word.value)
                return CardAnswer(word=said.word, remarks=(remark,))
            case Word.SIGNED:
                return self._sign(text)
            case Word.NAME:
                self._name = " ".join(text.split())
                self._hand.know_more()
        return CardAnswer(word=said.word)

    def close(self) -> CardAnswer:
        """End the card in hand, if anything was read on it."""
        done = self._hand.finish()
        if done or not (self._signed or self._name):
            return self._answer(Word.NEXT, Taken(done=done))
        self._forget()
        return CardAnswer(word=Word.NEXT, remarks=(Remark(code=Say.CARD_MISSING),))

    def _answer(self, word: Word | None, taken: Taken) -> CardAnswer:
        return CardAnswer(
            word=word,
            heard=taken.heard,
            remarks=taken.remarks,
            cards=tuple(map(self._card, taken.done)),
        )

    def _card(self, collected: Collected) -> ReadCard:
        signed, name = self._signed, self._name
        self._signed, self._name = None, ""
        return ReadCard(
            readings=collected.readings, found=collected.found, signed=signed, name=name
        )

    def _forget(self) -> None:
        self._hand.forget()
        self._signed, self._name = None, ""

    def _sign(self, text: str) -> CardAnswer:
        today = self._today()
        words = {"today": today, "yesterday": today - timedelta(days=1)}
        try:
            self._signed = words.get(text.lower()) or date.fromisoformat(text)
        except ValueError:
            remark = Remark(code=Say.DATE_UNCLEAR, text=text)
            return CardAnswer(word=Word.SIGNED, remarks=(remark,))
        self._hand.know_more()
        return CardAnswer(word=Word.SIGNED)

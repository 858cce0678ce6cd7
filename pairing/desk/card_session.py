"""Lines at the desk for returned cards become cards: the same words as at the counter, and two
more, for date and name."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
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
    reading. signed: the date beside the signature. is_signed, is_dated: whether there is a
    signature, and a date, as said or seen; None where neither. name: as given. amends: the last
    card is given again, after a slip. only_notes: codes of findings that its form has as notes
    (`judge.fields.SETTABLE_ON_RETURN`). photos: source of a reading to the photo's SHA-256.
    seen: writing or print in the box, read blind from a photo; thresholds: for weighing it.
    """

    readings: tuple[Reading, ...]
    found: tuple[Finding, ...] = ()
    signed: date | None = None
    is_signed: bool | None = None
    is_dated: bool | None = None
    name: str = ""
    amends: bool = False
    only_notes: tuple[str, ...] = ()
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
    or the end.

    is_live: somebody sees what becomes of each card before the next line comes, and may put the
    last one right by the same words. today: the desk's day."""

    def __init__(
        self,
        setup: WedgeSetup = _DEFAULT,
        today: Callable[[], date] = lambda: datetime.now().astimezone().date(),
        *,
        is_live: bool = False,
    ) -> None:
        self._today = today
        self.is_live = is_live
        self._setup = setup
        self._hand = InHand(setup, lambda reading: reading, RETURNED)
        self._said = _Said()
        self._last: ReadCard | None = None
        self._is_in_order = False

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
                if said.word is Word.BOX and text and self._may_amend and not self._is_in_order:
                    return self._keyed_again(text)
                return self._answer(said.word, self._hand.key(Side(said.word.value), text))
            case Word.NAME if not text:
                remark = Remark(code=Say.NUMBER_MISSING, text=said.word.value)
                return CardAnswer(word=said.word, remarks=(remark,))
            case Word.SIGNED | Word.UNSIGNED | Word.NAME:
                return self._say(said.word, text)
        return CardAnswer(word=said.word)

    def judged(self, *, is_in_order: bool) -> None:
        """What became of the last card. Its box may be keyed again unless it is in order, what
        was said of it in any case, as long as no other card is in hand."""
        self._is_in_order = is_in_order

    def close(self) -> CardAnswer:
        """End the card in hand, if anything was read on it."""
        done = self._hand.finish()
        if done or self._said == _Said():
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
        said, self._said = self._said, _Said()
        card = ReadCard(readings=collected.readings, found=collected.found)
        self._last = said.of(card)
        return self._last

    @property
    def _may_amend(self) -> bool:
        is_free = self._hand.is_empty and self._said == _Said()
        return self.is_live and is_free and self._last is not None

    def _keyed_again(self, text: str) -> CardAnswer:
        """The last card with another number keyed in its box."""
        assert self._last is not None
        hand = InHand(self._setup, lambda reading: reading, RETURNED)
        taken = hand.key(Side.BOX, text)
        (keyed,) = hand.finish()
        kept = tuple(one for one in self._last.readings if one.side is not Side.BOX)
        card = replace(self._last, readings=(*kept, *keyed.readings), seen=None, amends=True)
        self._last = card
        return CardAnswer(word=Word.BOX, heard=taken.heard, cards=(card,))

    def _forget(self) -> None:
        self._hand.forget()
        self._said, self._last = _Said(), None

    def _said_by(self, word: Word, text: str, before: _Said) -> _Said:
        """Raises ValueError for what is no date."""
        if word is Word.NAME:
            return replace(before, name=" ".join(text.split()))
        if word is Word.UNSIGNED:
            return replace(before, is_signed=False, signed=None)
        today = self._today()
        words = {"today": today, "yesterday": today - timedelta(days=1)}
        day = words.get(text.lower()) or date.fromisoformat(text) if text else None
        return replace(before, is_signed=True, signed=day)

    def _say(self, word: Word, text: str) -> CardAnswer:
        """Signature, date or name; of the last card, where no other one is in hand."""
        amends = self._may_amend
        try:
            said = self._said_by(word, text, _Said() if amends else self._said)
        except ValueError:
            remark = Remark(code=Say.DATE_UNCLEAR, text=text)
            return CardAnswer(word=word, remarks=(remark,))
        is_bare = word is Word.SIGNED and not text
        remarks = (Remark(code=Say.SIGNED_UNDATED),) if is_bare else ()
        if amends and self._last is not None:
            self._last = replace(said.of(self._last), amends=True)
            return CardAnswer(word=word, remarks=remarks, cards=(self._last,))
        self._said = said
        self._hand.know_more()
        return CardAnswer(word=word, remarks=remarks)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    """What was said of a card besides what was read on it."""

    is_signed: bool | None = None
    signed: date | None = None
    name: str = ""

    def of(self, card: ReadCard) -> ReadCard:
        """The card with what was said of it."""
        if self.name:
            card = replace(card, name=self.name)
        if self.is_signed is None:
            return card
        is_dated = self.is_signed and self.signed is not None
        return replace(card, is_signed=self.is_signed, signed=self.signed, is_dated=is_dated)

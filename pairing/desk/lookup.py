"""The piece in hand against what the ledger knows: earlier pieces and expected pairs."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from pairing.desk import dates
from pairing.desk.book import Book
from pairing.desk.remarks import Remark, Say
from pairing.errors import LedgerUnusable
from pairing.findings import Code, Finding
from pairing.judge import judge
from pairing.ledger import Entry, Kind
from pairing.model import (
    EarlierUse,
    ExpectedPair,
    How,
    Judgment,
    Reading,
    Role,
    Side,
    TrackingNumber,
    Verdict,
)

EXPECTED_FOR = timedelta(days=31)
"""How long a loaded pair is expected. Common practice, no source: a month of mailings."""

LIST_LIVES_FOR = timedelta(hours=24)
"""How long after a list was loaded a label that is on none is doubted: a list loaded the
evening before counts, one of last week does not. Common practice, no source."""


Held = tuple[TrackingNumber | None, str | None]
"""Label and card in hand, as far as they are read."""


class Lookup:
    """Judges with the record at hand. Its methods raise LedgerUnusable, except `placed`,
    `now` and `judged_alone`."""

    def __init__(self, book: Book, clock: Callable[[], datetime]) -> None:
        self._book = book
        self._clock = clock

    def placed(self, reading: Reading) -> Reading:
        """A number whose form does not tell a card from a label, on the side that the
        expected lists give it; the reading itself where they do not."""
        number = reading.number
        if reading.side is Side.BOX or not isinstance(number, TrackingNumber):
            return reading
        if number.role is Role.CARD:
            return reading
        try:
            pairs = self._about(number.text)
        except LedgerUnusable:
            return reading  # said when the piece is to be recorded
        is_card = any(pair.card == number.text for pair in pairs)
        is_article = any(pair.article == number.text for pair in pairs)
        return replace(reading, side=Side.CARD) if is_card and not is_article else reading

    def remarks_on_new(self, before: Held, now: Held, *, but: Entry | None) -> tuple[Remark, ...]:
        """What to say at once of a label or card that has just come: that it is sealed already,
        or was stopped today. but: the entry that is read again. Never raises."""
        (label, card), (old_label, old_card) = now, before
        remarks: list[Remark] = []
        try:
            if label is not None and label != old_label:
                remarks += self._remarks_on_number(Side.LABEL, label.text, but)
            if card is not None and card != old_card:
                remarks += self._remarks_on_number(Side.CARD, card, but)
        except LedgerUnusable:
            return ()  # said when the piece is to be recorded
        return tuple(remarks)

    def _remarks_on_number(self, side: Side, number: str, but: Entry | None) -> Iterator[Remark]:
        label, card = (number, None) if side is Side.LABEL else (None, number)
        pieces = self._book.story(number).pieces
        holding = [one.first for one in pieces if number in (one.article, one.card)]
        first = holding[0] if holding else None
        stop = self._stop_today(side, number, but)
        if side is Side.LABEL and self.is_unlisted(number):
            yield Remark(code=Say.NOT_LISTED)
        is_own = but is not None and first is not None and first.sequence == but.sequence
        if first is not None and not is_own and self._book.earlier(article=label, card=card):
            yield Remark(code=Say.SEALED_BEFORE, side=side, entry=first.sequence)
        elif stop is not None:
            said = "Do not seal" if stop.verdict is Verdict.DIFFERS else "Scan again"
            yield Remark(code=Say.STOPPED_BEFORE, side=side, entry=stop.sequence, text=said)

    def is_unlisted(self, article: str) -> bool:
        """Whether lists of today are loaded and none of them has this article. Raises
        LedgerUnusable."""
        if any(pair.article == article for pair in self._about(article)):
            return False
        since = self._clock() - LIST_LIVES_FOR
        return bool(self._book.expected(article=article, card=None, since=since))

    def keyed_after_stop(
        self, readings: Sequence[Reading], but: Entry | None
    ) -> tuple[Finding, ...]:
        """A label that is only keyed counts for nothing where its card was stopped today with
        another label: what was keyed may be what is written in the box."""
        labels = [one for one in readings if one.side is Side.LABEL]
        if {one.how for one in labels} != {How.KEYED}:
            return ()
        found = []
        for card in sorted({one.number.text for one in readings if one.side is Side.CARD}):
            stop = self._stop_today(Side.CARD, card, but)
            others = {one.number.text for one in labels}
            if stop is not None and stop.article is not None and stop.article not in others:
                time = f"{stop.when.astimezone():%H:%M}"
                found.append(Finding.of(Code.KEYED_AFTER_STOP, entry=stop.sequence, time=time))
        return tuple(found)

    def now(self) -> datetime:
        """The desk's time, aware."""
        return self._clock()

    def stopped_since(self, readings: Sequence[Reading], read_at: datetime) -> tuple[Finding, ...]:
        """A piece that could not be recorded when it was read, and that was called different at
        another desk meanwhile, is not sealed by the older reading."""
        found = []
        for side in (Side.LABEL, Side.CARD):
            for number in sorted({one.number.text for one in readings if one.side is side}):
                stop = self._stop_today(side, number, None)
                if stop and stop.verdict is Verdict.DIFFERS and stop.when > read_at:
                    time = f"{stop.when.astimezone():%H:%M}"
                    found.append(Finding.of(Code.STOPPED_SINCE, entry=stop.sequence, time=time))
        return tuple(dict.fromkeys(found))

    def _stop_today(self, side: Side, number: str, but: Entry | None) -> Entry | None:
        """The last stop of that label or card today, unless it was sealed since."""
        since, _ = dates.span(dates.day_of(self._clock()))
        last = None
        for entry in self._book.story(number).entries:
            if number == (entry.article if side is Side.LABEL else entry.card):
                if entry.kind is Kind.STOPPED and entry.when >= since:
                    last = entry
                elif entry.kind in (Kind.PAIRED, Kind.CORRECTED):
                    last = None
        return None if last is None or (but and but.sequence == last.sequence) else last

    def judged(
        self,
        readings: Sequence[Reading],
        found: Sequence[Finding],
        *,
        without: Collection[str] = (),
    ) -> Judgment:
        """The verdict before the ledger's own word on it.

        without: names of earlier pieces that are this one, to be left out.
        """
        expected = self._expected(readings)
        first = judge(readings, expected=expected, found=found)
        earlier: tuple[EarlierUse, ...] = ()
        if first.article or first.card:
            earlier = self._book.earlier(article=first.article, card=first.card)
        return judge(
            readings,
            expected=expected,
            earlier=[use for use in earlier if use.piece not in without],
            others=self._others(first),
            found=found,
        )

    @staticmethod
    def judged_alone(readings: Sequence[Reading], found: Sequence[Finding]) -> Judgment:
        """The verdict where the records cannot be asked. Never raises."""
        return judge(readings, found=found)

    def _others(self, first: Judgment) -> dict[str, str]:
        """Whose number is written in the box, where it is not this piece's."""
        text = first.written
        if text is None or text in (first.article, first.card):
            return {}
        named = [one for one in self._book.story(text).entries if one.article == text]
        pieces = [one for one in named if one.kind in (Kind.PAIRED, Kind.STOPPED)]
        if pieces:
            return {text: pieces[0].name}
        listed = [one.remark for one in named if one.kind is Kind.EXPECTED and one.remark]
        return {text: listed[0]} if listed else {}

    def _expected(self, readings: Sequence[Reading]) -> tuple[ExpectedPair, ...]:
        numbers = {
            reading.number.text
            for reading in readings
            if reading.side is not Side.BOX and isinstance(reading.number, TrackingNumber)
        }
        found: dict[ExpectedPair, None] = {}
        for number in sorted(numbers):
            found |= dict.fromkeys(self._about(number))
        if found or not numbers:
            return tuple(found)
        # None knows these numbers; a list of today makes that worth saying.
        since = self._clock() - LIST_LIVES_FOR
        return self._book.expected(article=min(numbers), card=None, since=since)

    def _about(self, number: str) -> tuple[ExpectedPair, ...]:
        since = self._clock() - EXPECTED_FOR
        pairs = self._book.expected(article=number, card=number, since=since)
        # Where none knows it the ledger gives one other pair, which says nothing here.
        return tuple(pair for pair in pairs if number in (pair.article, pair.card))

"""Finished pieces on their way to the ledger: judged, recorded, and only then given out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from pairing.desk import commands, photographed, piece_kind
from pairing.desk.answers import Finished
from pairing.desk.book import Book
from pairing.desk.lookup import Lookup
from pairing.desk.onscreen import OnScreen
from pairing.desk.rules import Collected
from pairing.errors import LedgerUnusable
from pairing.findings import Finding
from pairing.judge.without_label import without_label
from pairing.ledger import Draft, Entry, Kind, Outcome, State, draft_of, observed
from pairing.model import Judgment, Side, Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """A finished piece that is to be recorded. corrects: the entry it was read again for. read_at:
    when its last reading was made. has_waited: it could not be recorded then.
    about: for whom and why it is; None until it is offered for the first time."""

    piece: Collected
    key: str
    desk: str
    operator: str
    read_at: datetime
    has_waited: bool = False
    corrects: Entry | None = None
    about: Mapping[str, str] | None = None

    @property
    def numbers(self) -> frozenset[tuple[Side, str]]:
        """What was read on label and card."""
        sides = (Side.LABEL, Side.CARD)
        read = (one for one in self.piece.readings if one.side in sides)
        return frozenset((one.side, one.number.text) for one in read)


class Recorder:
    """Records one session's pieces, and keeps those that could not be recorded.

    last: the entry of the piece that was recorded last. shown: the numbers that were given
    out with a verdict. about: for whom and why the piece in hand is, as far as it was said.
    """

    def __init__(self, book: Book, lookup: Lookup) -> None:
        self._book = book
        self._lookup = lookup
        self._waiting: list[Offer] = []
        self.last: Entry | None = None
        self.shown = OnScreen()
        self.about: dict[str, str] = {}

    @property
    def waiting(self) -> int:
        """How many pieces wait to be recorded."""
        return len(self._waiting)

    def record(self, offer: Offer) -> Finished:
        """Judge the piece and record it. Never raises LedgerUnusable: a piece that cannot be
        recorded is given out as such, and waits for `again`. Raises KeyReused."""
        own = offer.corrects
        if offer.about is None:
            offer, self.about = replace(offer, about=self.about), {}
        try:
            # Offered again, a piece must not be held against itself.
            before = self._book.offered(offer.key)
            readings = offer.piece.readings
            stopped = () if before else self._stops_against(offer)
            judgment = self._lookup.judged(
                readings,
                (*offer.piece.found, *commands.read_again(own), *stopped),
                without=[one.name for one in (own, before) if one is not None],
            )
            about = self._for_whom(offer, judgment)
            said = piece_kind.notes(judgment.article, about)
            judgment = replace(judgment, findings=(*judgment.findings, *said))
            draft = replace(_draft(offer, judgment), refers=self._about(offer, judgment))
            outcome = self._book.append(replace(draft, particulars=about))
        except LedgerUnusable as problem:
            self._waiting.append(replace(offer, has_waited=True))
            # What the records say cannot be asked; the sides are judged without them.
            alone = self._lookup.judged_alone(offer.piece.readings, offer.piece.found)
            return self._given_out(offer, alone, None, str(problem))
        entry = outcome.entry
        self.last = entry
        # A piece that was scanned again need not be offered a second time.
        self._waiting = [one for one in self._waiting if one.numbers != offer.numbers]
        judgment = replace(judgment, verdict=entry.verdict or judgment.verdict, findings=entry.said)
        return self._given_out(offer, judgment, outcome, "")

    def _for_whom(self, offer: Offer, judgment: Judgment) -> dict[str, str]:
        """For whom and why: as it was declared, and as it was said. Where neither label nor card
        is read, nothing could find it again to erase it."""
        article, card = judgment.article, judgment.card
        said = dict(offer.about or {}) if article or card else {}
        return {**self._book.declared(article=article, card=card), **said}

    def _stops_against(self, offer: Offer) -> tuple[Finding, ...]:
        """What stops of its label or card say against it."""
        readings = offer.piece.readings
        keyed = self._lookup.keyed_after_stop(readings, offer.corrects)
        since = self._lookup.stopped_since(readings, offer.read_at) if offer.has_waited else ()
        return (*keyed, *since)

    def _about(self, offer: Offer, judgment: Judgment) -> int | None:
        """The piece that this is a reading of: the one that it is read again for, or the sealed
        one with the same label and card, whose box turns out to say something else."""
        if offer.corrects is not None:
            return offer.corrects.sequence
        if judgment.verdict is not Verdict.DIFFERS or None in (judgment.article, judgment.card):
            return None
        for piece in self._book.story(judgment.article or "").pieces:
            is_same = (piece.article, piece.card) == (judgment.article, judgment.card)
            if is_same and piece.state is not State.VOID:
                return piece.sequence
        return None

    def again(self, key: str = "") -> tuple[Finished, ...]:
        """Offer once more what could not be recorded; with a key only that entry's pieces."""
        offers = self._of(key)
        self._waiting = [one for one in self._waiting if one not in offers]
        return tuple(self.record(offer) for offer in offers)

    def is_waiting(self, key: str) -> bool:
        """Whether pieces of the entry with this key wait to be recorded."""
        return bool(key and self._of(key))

    def has_recorded(self, key: str) -> bool:
        """Whether a piece is on record that was offered with this key. Never raises
        LedgerUnusable."""
        try:
            return bool(key) and self._book.offered(key) is not None
        except LedgerUnusable:
            return False

    def as_it_stands(self, finished: Finished) -> Finished:
        """An answer that was given before, given out again: what was voided or corrected
        meanwhile is not sealed any more. Never raises LedgerUnusable."""
        outcome = finished.outcome
        if outcome is None or not outcome.may_seal:
            return finished
        entry = outcome.entry
        try:
            pieces = self._book.story(entry.article or "").pieces
        except LedgerUnusable as problem:
            return replace(finished, outcome=None, trouble=str(problem))
        numbers = (entry.article, entry.card)
        stands = any(
            one.sequence == entry.sequence
            and one.state is not State.VOID
            and one.contradicted is None
            and (one.article, one.card) == numbers
            for one in pieces
        )
        return finished if stands else replace(finished, outcome=replace(outcome, is_void=True))

    def _of(self, key: str) -> Sequence[Offer]:
        return [
            one
            for one in self._waiting
            if not key or one.key == key or one.key.startswith(f"{key}/")
        ]

    def _given_out(
        self, offer: Offer, judgment: Judgment, outcome: Outcome | None, trouble: str
    ) -> Finished:
        readings = (*offer.piece.readings, *offer.piece.besides)
        finished = Finished(
            readings=readings,
            judgment=judgment,
            outcome=outcome,
            trouble=trouble,
            corrects=offer.corrects.sequence if offer.corrects else None,
        )
        if finished.is_blind:
            judgment = without_label(judgment, readings)
            finished = replace(finished, judgment=judgment)
        elif judgment.article:
            self.shown.add((judgment.article,))
        self.shown.add((judgment.written or "",))
        self.shown.add(finding.message for finding in judgment.findings)
        return finished


def _draft(offer: Offer, judgment: Judgment) -> Draft:
    piece = offer.piece
    photos = photographed.digests((*piece.readings, *piece.besides))
    draft = draft_of(
        judgment, piece.readings, desk=offer.desk, operator=offer.operator, photos=photos
    )
    besides = tuple(observed(one, photo_sha256=photos.get(one.source, "")) for one in piece.besides)
    draft = replace(draft, key=offer.key, readings=(*draft.readings, *besides))
    if offer.corrects is None:
        return draft
    is_pair = offer.corrects.kind is Kind.PAIRED and judgment.verdict is Verdict.AGREES
    kind = Kind.CORRECTED if is_pair else draft.kind
    return replace(draft, kind=kind)

"""What a session gives back for an entry."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from pairing.desk.arrivals import Heard
from pairing.desk.days import DayCount
from pairing.desk.remarks import Remark
from pairing.desk.unsettled import is_sealed_before
from pairing.desk.words import Word
from pairing.findings import Code, Weight
from pairing.ledger import Entry, Kind, Outcome
from pairing.model import Judgment, Reading, Side, Verdict


class Advice(StrEnum):
    """What the clerk is told to do, or what became of the piece. Only SEAL says that an agreeing
    pair is on record.

    SCAN_AGAIN: something was not read, and the clerk can read it. ASK: everything was read, and a
    person who may decide has to. DONE_ALREADY: nothing is left to do.
    """

    SEAL = "Seal"
    CORRECTED = "Corrected"
    DO_NOT_SEAL = "Do not seal"
    SCAN_AGAIN = "Scan again"
    ASK = "Ask"
    DONE_ALREADY = "Done already"
    NOT_RECORDED = "Not recorded"


STOPS = (Advice.DO_NOT_SEAL, Advice.SCAN_AGAIN, Advice.ASK)
"""After these the piece is set aside or started over by a deliberate act."""

_TO_ASK = frozenset(
    (
        Code.NOT_EXPECTED,
        Code.LABEL_USED_BEFORE,
        Code.CARD_USED_BEFORE,
        Code.SERVICE_UNLISTED,
        Code.CONVENTION,
        Code.SYMBOLOGY_UNUSUAL,
        Code.ROUTING_DIFFERS,
        Code.CARD_WRONG_KIND,
        Code.CORRECTION_OF_NOTHING,
        Code.CORRECTION_OF_VOID,
        Code.CORRECTION_OF_ANOTHER,
        Code.CORRECTION_OF_RETURNED,
    )
)
"""Doubts that no further reading of the piece removes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished:
    """A finished piece.

    judgment: with the ledger's own findings once it is recorded. Where `is_blind`, its
    article number is not to be shown; its findings do not tell it. outcome: what the ledger
    recorded; None where it could not, and then `trouble` says why. corrects: the sequence
    of the entry that this piece was read again for.
    """

    readings: tuple[Reading, ...]
    judgment: Judgment
    outcome: Outcome | None
    trouble: str = ""
    corrects: int | None = None

    @property
    def advice(self) -> Advice:
        """What to tell the clerk, in large letters."""
        if self.outcome is None:
            return Advice.NOT_RECORDED
        if self.outcome.may_seal:
            return Advice.SEAL
        entry = self.outcome.entry
        if entry.kind is Kind.CORRECTED and not self.outcome.is_repeated:
            return Advice.CORRECTED
        if self.judgment.verdict is Verdict.DIFFERS:
            return Advice.DO_NOT_SEAL
        if is_sealed_before(entry):
            return Advice.DONE_ALREADY
        doubts = {one.code for one in self.judgment.findings if one.weight is Weight.DOUBT}
        return Advice.ASK if doubts and doubts <= _TO_ASK else Advice.SCAN_AGAIN

    @property
    def is_blind(self) -> bool:
        """Whether a label was read and the box was not: it is still to be read, by someone
        who has not seen the label's number."""
        return self.judgment.written is None

    @property
    def entry(self) -> Entry | None:
        """The entry, None where nothing was recorded."""
        return self.outcome.entry if self.outcome else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What came of one entry.

    missing: the sides of the piece in hand that are not read yet. word: the word, if it was
    one. heard: what was recognized. remarks: what to tell the clerk. is_stopped: whether the
    last piece was stopped and nothing counts until it is set aside or started over. finished:
    the pieces that the entry finished, usually none or one. recorded: what a word of the desk
    (void, note, handover) recorded. trouble: why such a word was not recorded. count: today's
    count, where it was asked for. asks: whether the word waits for yes. unsettled: stopped
    pieces that the question is about.
    """

    missing: tuple[Side, ...]
    word: Word | None = None
    heard: tuple[Heard, ...] = ()
    remarks: tuple[Remark, ...] = ()
    is_stopped: bool = False
    finished: tuple[Finished, ...] = ()
    recorded: Outcome | None = None
    trouble: str = ""
    count: DayCount | None = None
    asks: bool = False
    unsettled: tuple[Entry, ...] = ()

"""What a desk has to say in addition to a verdict: codes with what they are about, not sentences.

Each shell words them for its own readers; `phrases` has the plain English.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from pairing.model import Side


class Say(StrEnum):
    """What there is to say. The values are stable: pages in other languages look them up.

    About the piece in hand: `side`, `count` and `text` of the remark say which side, how many
    scans, or what was typed. About entries: `entry` is the sequence.
    """

    DOUBLE_READ = "double-read"
    DOUBLE_READ_OR_STRIP = "double-read-or-strip"
    DOUBLE_READ_ASKED = "double-read-asked"
    STRIP_NEXT = "strip-next"
    STRIP_UNCLEAR = "strip-unclear"
    STRIP_TOO_EARLY = "strip-too-early"
    STRIP_TOO_SOON = "strip-too-soon"
    STRIP_OR_LABEL = "strip-or-label"
    STRIP_OR_NEXT = "strip-or-next"
    STRIP_IS_CARD = "strip-is-card"
    STRIP_TYPED = "strip-typed"
    BOX_TOO_EARLY = "box-too-early"
    CARD_TOO_LATE = "card-too-late"
    OTHER_SIDE_TAKEN = "article-on-card"
    STARTED_OVER = "starts-over"
    STOPPED = "stopped"
    SET_ASIDE = "set-aside"
    LABEL_UNCONFIRMED = "label-unconfirmed"
    CONFIRM_WHAT = "confirm-what"
    CONFIRM_WHY = "confirm-why"
    CONFIRMED = "confirmed"
    UNLISTED_SAID = "unlisted-said"
    IS_LISTED = "is-listed"
    NOT_LISTED = "not-listed"
    NUMBERLESS_SAID = "numberless-said"
    CARD_HAS_NUMBER = "card-has-number"
    LABEL_FIRST = "label-first"
    STOPPED_BEFORE = "known-stopped"
    SEALED_BEFORE = "known-sealed"
    NUMBER_MISSING = "number-missing"
    DATE_UNCLEAR = "date-unclear"
    SIGNED_UNDATED = "signed-undated"
    CARD_MISSING = "card-missing"
    TOO_FAST = "too-fast"
    TOO_EVEN = "too-even"
    NOT_TYPED = "not-typed"
    NO_WORD = "no-word"
    UNNAMED = "unnamed"
    UNNAMED_KEPT = "unnamed-kept"
    WORD_ELSEWHERE = "word-elsewhere"
    RECORDED = "recorded"
    FINISH_FIRST = "finish-first"
    CORRECT_WHICH = "correct-which"
    CORRECTING = "correcting"
    NOTHING_CORRECTED = "nothing-corrected"
    VOID_HOW = "void-how"
    NOTHING_TO_VOID = "nothing-to-void"
    STOP_NOT_VOIDED = "stop-not-voided"
    VOID_ASKED = "void-asked"
    VOIDING = "voiding"
    SETTLE_HOW = "settle-how"
    NO_STOP = "no-stop"
    NOT_STOPPED = "not-stopped"
    END_ASKED = "end-asked"
    NOT_DONE = "not-done"
    NOTHING_ASKED = "nothing-asked"
    NO_ENTRY = "no-entry"
    NO_PIECE = "no-piece"
    NO_NUMBER = "no-number"
    NOT_ONE_PIECE = "not-one-piece"
    NOTE_WHAT = "note-what"
    FOR_WHOM = "for-whom"
    FOR_WHOM_ENTRY = "for-whom-entry"
    FOR_WHOM_TAKEN = "for-whom-taken"
    FOR_WHOM_NEXT = "for-whom-next"
    FOR_WHOM_ADDED = "for-whom-added"
    PIECE_KIND = "piece-kind"
    PIECE_KIND_HOW = "piece-kind-how"
    PIECE_KIND_ODD = "piece-kind-odd"
    REFERENCE_NEXT = "reference-next"
    REFERENCE_IS_NUMBER = "reference-is-number"
    HANDOVER_TO_WHOM = "handover-to-whom"
    HANDED_OVER = "handed-over"


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """One thing to say, with what it is about; see `Say`."""

    code: Say
    side: Side | None = None
    entry: int | None = None
    count: int = 0
    text: str = ""

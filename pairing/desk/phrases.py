"""The desk's remarks in plain English, one sentence or two for each code."""

from __future__ import annotations

from pairing.desk.remarks import Remark, Say

_PHRASES = {
    Say.DOUBLE_READ: "The same scan came twice; it counts once.",
    Say.DOUBLE_READ_ASKED: "The same scan came twice; if you mean it, scan it once more.",
    Say.STRIP_NEXT: "Scan the strip in the box.",
    Say.STRIP_UNCLEAR: "{count} scans arrived instead of one for the strip; none of them counts. "
    "Type strip and scan it again.",
    Say.STRIP_TOO_EARLY: "Scan the {side} of this piece first, then the strip.",
    Say.STRIP_TOO_SOON: "That scan came sooner than a piece can be turned over. If it was the "
    "strip in the box, scan it once more.",
    Say.STRIP_OR_LABEL: "Not counted: was that the label, or the strip in the box? Scan the label "
    "of this piece once more.",
    Say.STRIP_IS_CARD: "Not counted: that is the card's own barcode, beside the box. Type strip "
    "and scan the strip, or key the box.",
    Say.STRIP_TYPED: "That was typed. Type strip alone and then scan, or key box NUMBER.",
    Say.BOX_TOO_EARLY: "Not counted: scan the {side} of this piece first, then key the box.",
    Say.CARD_TOO_LATE: "Not counted: the box was read before this card. next ends the piece; "
    "again starts it over.",
    Say.OTHER_SIDE_TAKEN: "Not counted: this is not a card's own number. If it is the strip in "
    "the box, type strip and scan it.",
    Say.STARTED_OVER: "Started over: nothing that was read on this piece counts.",
    Say.STOPPED: "Not counted: the last piece was stopped. Set it aside and type aside, or type "
    "again to start it over.",
    Say.SET_ASIDE: "Set aside. Scan another piece.",
    Say.LABEL_UNCONFIRMED: "The label was keyed. Scan it, or say why it cannot be scanned: "
    "confirm WHY.",
    Say.CONFIRM_WHAT: "There is no keyed label to confirm.",
    Say.CONFIRM_WHY: "Say why the label cannot be scanned: confirm WHY.",
    Say.CONFIRMED: "The keyed label counts, on your word. This is recorded.",
    Say.STOPPED_BEFORE: "This {side} was stopped today as entry {entry}: {text}.",
    Say.SEALED_BEFORE: "This {side} is sealed already, as entry {entry}.",
    Say.NUMBER_MISSING: "Type it after the word: {text} ...",
    Say.DATE_UNCLEAR: "{text!r} is not a date; write it as 2026-11-25.",
    Say.CARD_MISSING: "There is no card for this date or name.",
    Say.TOO_FAST: "The word {text} came too fast to be typed; it does nothing. Type it.",
    Say.TOO_EVEN: "That came as evenly as from a scanner, so it does not count. Key what you "
    "read there, digit by digit.",
    Say.NOT_TYPED: "The number was scanned or pasted, not typed. Key what you read there, digit "
    "by digit.",
    Say.NO_WORD: "{text!r} is not a word that is known here; type help.",
    Say.UNNAMED: "Typed, not scanned. Say what it is: box (or /), label or card, then the number.",
    Say.WORD_ELSEWHERE: "The word {text} does nothing here; type help.",
    Say.RECORDED: "Everything is recorded.",
    Say.FINISH_FIRST: "Finish the piece in hand first: next, or again.",
    Say.CORRECT_WHICH: "Say which: correct 12, the number of its entry.",
    Say.CORRECTING: "Entry {entry} is read again: label, card and box from the start. next "
    "leaves it as it is.",
    Say.NOTHING_CORRECTED: "Nothing is corrected.",
    Say.VOID_HOW: "Say which and why: void 12 WHY (12 is the number of its entry).",
    Say.NOTHING_TO_VOID: "Entry {entry} ({text}) holds nothing that could be voided.",
    Say.NO_ENTRY: "There is no entry {entry}.",
    Say.NO_PIECE: "Entry {entry} is not a piece; a piece's own entry is corrected.",
    Say.NO_NUMBER: "{text!r} is neither an entry nor a label's or card's number.",
    Say.NOT_ONE_PIECE: "{count} sealed pieces have this number; give the number of the entry.",
    Say.NOTE_WHAT: "Say what to put on record: note TEXT.",
    Say.FOR_WHOM: "Whom is it for? to NAME, or ref TEXT. You may go on without.",
    Say.FOR_WHOM_ENTRY: "Whom is entry {entry} for? to NAME, or ref TEXT. You may go on without.",
    Say.FOR_WHOM_TAKEN: "Noted for this piece: {text}.",
    Say.FOR_WHOM_ADDED: "Noted for entry {entry}: {text}.",
    Say.REFERENCE_NEXT: "Scan the reference.",
    Say.REFERENCE_IS_NUMBER: "That is the number of a label or card, not a reference; it counts "
    "as such.",
    Say.HANDOVER_TO_WHOM: "Say to whom: handover NAME.",
    Say.HANDED_OVER: "{text} is at this desk now.",
}


def worded(remark: Remark) -> str:
    """The remark as a clerk reads it. It never holds a digit of a label whose box is unread."""
    return _PHRASES[remark.code].format(
        side=remark.side.value if remark.side else "piece",
        entry=remark.entry,
        count=remark.count or "No",
        text=remark.text,
    )

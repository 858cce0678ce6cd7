"""The desk's remarks in plain English, one sentence or two for each code."""

from __future__ import annotations

from pairing.desk.remarks import Remark, Say
from pairing.desk.words import nearest_word

_PHRASES = {
    Say.DOUBLE_READ: "The same scan came twice; it counts once.",
    Say.DOUBLE_READ_OR_STRIP: "That number was read already; it counts once. If it was the strip "
    "in the box: type strip, press Enter, and scan it again.",
    Say.DOUBLE_READ_ASKED: "The same scan came twice; if you mean it, scan it once more.",
    Say.STRIP_NEXT: "Scan the strip in the box.",
    Say.STRIP_UNCLEAR: "{count} scans arrived instead of one for the strip; none of them counts. "
    "Type strip and scan it again.",
    Say.STRIP_TOO_EARLY: "Scan the {side} of this piece first, then the strip.",
    Say.STRIP_TOO_SOON: "That scan came sooner than a piece can be turned over. If it was the "
    "strip in the box, scan it once more.",
    Say.STRIP_OR_LABEL: "Not counted: was that the label, or the strip in the box? Scan the label "
    "of this piece once more.",
    Say.STRIP_OR_NEXT: "Not counted: another label's number, and the box of this piece is still to "
    "be read. If it was the strip in the box: type strip, press Enter, and scan it again. If it "
    "is the next piece: type next first. If it was a slip: scan the label of this piece once more.",
    Say.STRIP_IS_CARD: "Not counted: that is the card's own barcode, beside the box. Type strip "
    "and scan the strip, or key the box.",
    Say.STRIP_TYPED: "That was typed. Type strip alone, press Enter, and scan; or key / and the "
    "number.",
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
    Say.UNLISTED_SAID: "On no list, and that is right: recorded on your word.",
    Say.IS_LISTED: "Not needed: no list was loaded today, or this label is on it.",
    Say.NOT_LISTED: "This label is on no list that was loaded. If that is right, a walk-in piece "
    "for example, type unlisted. Otherwise set the piece aside and ask.",
    Say.NUMBERLESS_SAID: "The card has no number of its own: recorded on your word.",
    Say.CARD_HAS_NUMBER: "Not counted: a card's number was read on this piece.",
    Say.LABEL_FIRST: "Scan the label first, then type {text}.",
    Say.STOPPED_BEFORE: "This {side} was stopped today as entry {entry}: {text}.",
    Say.SEALED_BEFORE: "This {side} is sealed already, as entry {entry}: there is nothing left to "
    "do with that piece. Type again, and scan another one. If this is a different piece, set it "
    "aside and ask.",
    Say.NUMBER_MISSING: "Type it after the word: {text} ...",
    Say.DATE_UNCLEAR: "{text!r} is not a date; write it as 2026-11-25, today or yesterday.",
    Say.SIGNED_UNDATED: "Signed, without a date. If there is one, type signed 2026-11-25.",
    Say.CARD_MISSING: "There is no card for this date or name.",
    Say.TOO_FAST: "The word {text} came too fast to be typed; it does nothing. Type it.",
    Say.TOO_EVEN: "That came as evenly as from a scanner, so it does not count. Key what you "
    "read there, digit by digit.",
    Say.NOT_TYPED: "Not counted: a scan came after the word or /. For a strip in the box type "
    "strip, press Enter, and then scan. What is written by hand is keyed digit by digit.",
    Say.NO_WORD: "{text!r} is not a word that is known here.{near} help lists the words.",
    Say.UNNAMED: "Typed, not scanned. Say what it is: box (or /), label or card, then the number.",
    Say.UNNAMED_KEPT: "Typed without a word. If that is what is written in the box, press / and "
    "Enter; it need not be typed again.",
    Say.WORD_ELSEWHERE: "The word {text} does nothing here; type help.",
    Say.RECORDED: "Everything is recorded.",
    Say.FINISH_FIRST: "Finish the piece in hand first: next, or again.",
    Say.CORRECT_WHICH: "Say which: correct 12, the number of its entry.",
    Say.CORRECTING: "Entry {entry} is read again: label, card and box from the start. next "
    "leaves it as it is.",
    Say.NOTHING_CORRECTED: "Nothing is corrected.",
    Say.VOID_HOW: "Say which and why: void 12 WHY (12 is the number of its entry).",
    Say.NOTHING_TO_VOID: "Entry {entry} ({text}) holds nothing that could be voided.",
    Say.STOP_NOT_VOIDED: "Entry {entry} was stopped, so there is nothing to void. To say what "
    "became of that piece: settled {entry} HOW.",
    Say.VOID_ASKED: "Void entry {entry}: {text}? Type yes; anything else leaves it as it is.",
    Say.VOIDING: "Voiding entry {entry}: {text}.",
    Say.SETTLE_HOW: "Say which and how: settled 12 HOW (12 is the number of the stopped entry; "
    "HOW may be: card spoiled, given back to the sender).",
    Say.NO_STOP: "Entry {entry} is not a stopped piece.",
    Say.NOT_STOPPED: "No stopped piece has this number.",
    Say.END_ASKED: "{pieces} stopped at this desk today and not settled; see above. Find each of "
    "them before the mail goes out, or say what became of it: settled 12 HOW (12 is the number of "
    "its entry). Type yes to end all the same.",
    Say.NOT_DONE: "Left as it is: the question was not answered with yes.",
    Say.NOTHING_ASKED: "Nothing was asked.",
    Say.NO_ENTRY: "There is no entry {entry}.",
    Say.NO_PIECE: "Entry {entry} is not a piece; a piece's own entry is corrected.",
    Say.NO_NUMBER: "{text!r} is neither an entry nor a label's or card's number.",
    Say.NOT_ONE_PIECE: "{count} sealed pieces have this number; give the number of the entry.",
    Say.NOTE_WHAT: "Say what to put on record: note TEXT.",
    Say.FOR_WHOM: "Whom is it for? to NAME, or ref TEXT. You may go on without.",
    Say.FOR_WHOM_ENTRY: "Whom is entry {entry} for? to NAME, or ref TEXT. You may go on without.",
    Say.FOR_WHOM_TAKEN: "Noted for this piece: {text}.",
    Say.FOR_WHOM_NEXT: "Noted for the next piece: {text}.",
    Say.FOR_WHOM_ADDED: "Noted for entry {entry}: {text}.",
    Say.PIECE_KIND: "Letter, flat or parcel? piece l, piece f or piece p, or how thick it is: "
    "piece 1/4. You may go on without.",
    Say.PIECE_KIND_HOW: "Say piece letter (up to 1/4 inch thick), flat (up to 3/4) or parcel, or "
    "how thick it is: piece 0.2, piece 5 mm.",
    Say.PIECE_KIND_ODD: "{text}",
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
        pieces="1 piece was" if remark.count == 1 else f"{remark.count} pieces were",
        text=remark.text,
        near=_nearest(remark.text) if remark.code is Say.NO_WORD else "",
    )


def _nearest(typed: str) -> str:
    """The word that was probably meant, as a question."""
    near = nearest_word(typed)
    return f" Did you mean {near.value}?" if near else ""

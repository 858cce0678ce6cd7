"""Sentences about the counter, the ledger, proofs and the audit's records."""

from __future__ import annotations

from collections.abc import Mapping

from pairing.findings.codes import Code
from pairing.findings.wording.forms import Form, Values, form
from pairing.findings.wording.plurals import counted


def _second(what: str) -> Form:
    return form(
        f"A second {what} came before this piece was finished; which piece it belongs to is not "
        "guessed at.",
        "Take one piece and scan it from the start.",
    )


def _taken(item: str, partner: str) -> Form:
    return form(
        lambda of: (
            f"This {item}'s number is on a sealed piece, {of['piece']}, with {partner} "
            f"{of['partner'] or 'none'}."
        ),
        f"Do not seal. Find both pieces; one of them needs a new {item}.",
    )


def _reused(item: str) -> Form:
    return form(
        f"This {item}'s number was used before, as {{piece}}; the time in which it must not be "
        "used again is over."
    )


def _void_before(item: str) -> Form:
    return form(f"This {item}'s number was on {{piece}}, which was voided.")


def _stopped_before(item: str) -> Form:
    return form(f"A piece with this {item} was stopped as {{piece}} ({{why}}).")


def _clock(of: Values) -> str:
    if of["now"]:
        return (
            f"The clock said {of['before']} at the entry before and says {of['now']} now; the "
            "entries' order is that of their sequence."
        )
    return f"The last entry is of {of['before']}, later than this machine's clock."


def _proof_entry(of: Values) -> str:
    if of["entry"] is None:
        return "It shows an entry twice."
    return f"Entry {of['entry']} is not in the ledger that the head was signed for."


def _proof(message: str | None = None) -> Form:
    return form(message or _proof_entry, "Do not rely on this proof; ask for it again.")


def _recorded_otherwise(of: Values) -> str:
    recorded, shown, what = of["recorded"] or "none", of["shown"] or "none", of["what"]
    link = "with" if what == "card" else "for"
    piece = of["piece"][:1].upper() + of["piece"][1:]
    return f"{piece} has this piece {link} {what} {recorded}; the photos show {what} {shown}."


def _never_recorded(of: Values) -> str:
    stopped = " (a piece with this number was stopped)" if of["is_stopped"] else ""
    return f"{of['number']} was never recorded as sealed{stopped}."


_WOULD = {"agrees": "agree", "differs": "differ", "unread": "be unread"}


def _odds(of: Values) -> str:
    return f"{of['odds']:,} to 1"


def _other(of: Values) -> str:
    return f"label {of['other']}" if of["other"] else "no partner"


def _alone(missing: str, there: str) -> Form:
    return form(
        f"None of the photos shows the {missing} that belongs to this {there}.",
        f"Find the piece and photograph its {missing}.",
    )


FORMS: Mapping[Code, Form] = {
    Code.SECOND_LABEL: _second("label"),
    Code.SECOND_CARD: _second("card"),
    Code.STRIP_UNCLEAR: form(
        lambda of: (
            f"{counted(of['count'], 'scan')} arrived where the strip's one was expected; "
            f"{'it does not count' if of['count'] == 1 else 'none of them counts'}."
        ),
        "Scan the strip again.",
    ),
    Code.SCANNED_AGAIN: form("The {side} was unclear at first and was read again."),
    Code.READ_ANEW: form(
        "The operator says that entry {entry} came from a slip at the desk; the whole piece was "
        "read again."
    ),
    Code.LABEL_CONFIRMED: form(
        "{operator} vouches for the label's number, which was keyed: {why}."
    ),
    Code.UNLISTED_CONFIRMED: form("{operator} says that this piece belongs on no list."),
    Code.NUMBERLESS_CONFIRMED: form("{operator} says that this card has no number of its own."),
    Code.KEYED_AFTER_STOP: form(
        "This card was stopped with another label at {time} (entry {entry}); a keyed label does "
        "not count with it.",
        "Scan the label itself.",
    ),
    Code.STOPPED_SINCE: form(
        "After this piece was read here, and before it could be recorded, it was stopped at {time} "
        "(entry {entry}).",
        "Read the whole piece again.",
    ),
    Code.SIGNATURE_UNSAID: form(
        "Nobody has said yet that this card is signed and dated.",
        "Look at the card, and say signed with the date, or unsigned.",
    ),
    Code.CARD_UNSIGNED: form(
        "This card is not signed.",
        "It proves no delivery. Ask the post office for the record of delivery, and keep the card.",
    ),
    Code.CARD_UNDATED: form(
        "There is no date beside the signature, or it was not given.",
        "Look at the card; if there is a date, say signed with it.",
    ),
    Code.RETURN_CORRECTED: form(
        "The operator says that entry {entry} came from a slip at the desk; what it said was given "
        "again after the label's number had been shown."
    ),
    Code.SIGNED_IN_FUTURE: form(
        "The date of signature, {signed}, is still to come.", "Read the date again."
    ),
    Code.SIGNED_BEFORE_MAILING: form(
        "The date of signature, {signed}, is before the day the piece was sealed, {accepted}.",
        "Read the date again.",
    ),
    Code.PIECE_RECORDED_BEFORE: form(
        "Label and card are those of {piece}: this piece is recorded already.",
        "If it is that piece, nothing is left to do; if not, find both.",
    ),
    Code.LABEL_TAKEN: _taken("label", "card"),
    Code.CARD_TAKEN: _taken("card", "article"),
    Code.LABEL_REUSED: _reused("label"),
    Code.CARD_REUSED: _reused("card"),
    Code.LABEL_VOID_BEFORE: _void_before("label"),
    Code.CARD_VOID_BEFORE: _void_before("card"),
    Code.LABEL_STOPPED_BEFORE: _stopped_before("label"),
    Code.CARD_STOPPED_BEFORE: _stopped_before("card"),
    Code.CORRECTION_OF_NOTHING: form("There is no such piece to correct."),
    Code.CORRECTION_OF_VOID: form("{piece} was voided.", "Offer it as new."),
    Code.CORRECTION_OF_ANOTHER: form(
        "Neither label nor card is that of {piece}: this is another piece.",
        "Offer it as new; void {piece} if that one does not count.",
    ),
    Code.CORRECTION_OF_RETURNED: form(
        "The card of {piece} came back and was compared with its numbers.",
        "Void the return first, correct the piece, and take the card back again.",
    ),
    Code.RETURN_UNKNOWN: form(
        "No piece of this ledger has this card.", "Look for the mailing elsewhere; keep the card."
    ),
    Code.RETURN_OF_VOID: form(
        "The card of {piece} came back, but that piece was voided.",
        "Find out whether it was mailed after all.",
    ),
    Code.RETURN_READ_AGAIN: form(
        "This card was taken back on {day} (entry {entry}), and was not in order then."
    ),
    Code.RETURN_SAME: form(
        "The card of {piece} came back before, on {day} (entry {entry}); it says nothing else now."
    ),
    Code.RETURN_AGAIN: form(
        "The card of {piece} came back before, on {day} (entry {entry}).", "Compare both cards."
    ),
    Code.RETURN_NAMES_ANOTHER: form(
        lambda of: (
            f"The box says {of['written']}; the card was sent out with article "
            f"{of['article'] or 'none'}."
        ),
        "Keep the card and show it to whoever needs the proof.",
    ),
    Code.VOID_AGAIN: form("It was voided before."),
    Code.VOID_OF_RETURNED: form(
        "The card of {piece} came back, so that piece went out.",
        "Void the return first if that was the mistake.",
    ),
    Code.VOID_OF_NOTHING: form("There is nothing there to void."),
    Code.CLOCK_SET_BACK: form(_clock, "Set the clock right."),
    Code.LEDGER_TRUNCATED: form(
        lambda of: (
            f"The ledger has {counted(of['size'], 'entry', 'entries')}; this machine has "
            f"seen {of['seen']}."
        ),
        "Find out what became of it, and go back to the newest copy that verifies. Until then "
        "no piece is sealed. To go on without what is lost: counterfoil ledger go-on.",
    ),
    Code.LEDGER_CHANGED: form(
        lambda of: (
            f"The first {counted(of['size'], 'entry', 'entries')} of the ledger are not what this "
            "machine saw or signed before."
        ),
        "Verify the ledger, and go back to the newest copy that verifies. Until then no piece "
        "is sealed. To go on with it as it is: counterfoil ledger go-on.",
    ),
    Code.WITNESS_MISSING: form(
        "The folder for the witness file, {path}, cannot be written.",
        "Connect its disk, or correct COUNTERFOIL_WITNESS.",
    ),
    Code.LEDGER_OPEN: form(
        "Other users of this machine may read the ledger, {path}; it holds the names of signers.",
        "Let nobody but its owner read it (chmod 600).",
    ),
    Code.KEY_OPEN: form(
        "Other users of this machine may read the signing key, {path}.",
        "Let nobody but its owner read it.",
    ),
    Code.PROOF_SIGNATURE: _proof("The head is not signed by the key given."),
    Code.PROOF_KEY: _proof("The head is signed by another key than expected."),
    Code.PROOF_EMPTY: _proof("It shows no entry at all."),
    Code.PROOF_ENTRY: _proof(),
    Code.PROOF_PAIR: _proof("Entry {entry} is a sealed piece that does not agree."),
    Code.PROOF_PARTICULARS: _proof("Names and addresses are not those of entry {entry}."),
    Code.RECORDED_OTHERWISE: form(
        _recorded_otherwise, "Find the piece and the desk that recorded it."
    ),
    Code.RECORDED_VOID: form(
        "{piece} is this piece, and was voided.", "Find out whether it was mailed after all."
    ),
    Code.NEVER_RECORDED: form(
        _never_recorded, "Find out how it was mailed without being recorded."
    ),
    Code.MATCHED_BY_RECORD: form(
        lambda of: (
            "Which card belongs to this label is known from the list, the ledger or the office's "
            "pairing rule, and from what is written in its box as far as that was read "
            f"({_odds(of)} against {_other(of)} for this card)."
        )
    ),
    Code.MATCHED_BY_BOX: form(
        lambda of: (
            f"This card probably goes with this label ({_odds(of)} against {_other(of)}), and "
            f"would {_WOULD.get(of['would'], of['would'])}. But only what is written in its box "
            "says so, and a box may hold the number of another piece."
        ),
        "Photograph label and card of this piece together, or give a list or ledger that has the "
        "pair.",
    ),
    Code.MATCHED_BY_ORDER: form(
        lambda of: (
            f"This card probably goes with this label ({_odds(of)} against {_other(of)}), and "
            f"would {_WOULD.get(of['would'], of['would'])}. But only the order says so: cards and "
            "labels with numbers beside these went together, and any two may have been exchanged."
        ),
        "Photograph label and card of this piece together, or give a list or ledger that has the "
        "pair.",
    ),
    Code.BOX_NO_ARTICLE: form(
        "The box was read, and does not hold the number of any label ({why}): whatever label this "
        "card belongs to, the two differ.",
        "Find the label of this card, and have a new card written.",
    ),
    Code.BOX_NUMBER_TWICE: form(
        "The boxes of {count} cards hold the number {number}: at most one of them is right.",
        "Find the label of each of these cards.",
    ),
    Code.MATCH_IN_DOUBT: form(
        lambda of: (
            f"The card that fits this label best fits {_other(of)} nearly as well "
            f"({_odds(of)}; {of['least']} to 1 is required)."
        ),
        "Find label and card of this piece, and photograph them together.",
    ),
    Code.NO_LABEL_PHOTO: _alone("label", "card"),
    Code.NO_CARD_PHOTO: _alone("card", "label"),
}

"""What the desk's words ask of the ledger. A refusal is a sentence for the clerk."""

from __future__ import annotations

from pairing.findings import Code, Finding
from pairing.ledger import Draft, Entry, Kind, Ledger, State
from pairing.model import TrackingNumber
from pairing.numbers import identify

_LONGEST_SEQUENCE = 9
"""Digits of an entry's sequence; every number of a label or card is longer."""


def void(ledger: Ledger, text: str) -> Draft | str:
    """The draft that voids an entry: `12 why`, or the label's number and why. Desk and
    operator are left to the caller. Raises LedgerUnusable."""
    which, _, why = text.partition(" ")
    if not which or not why.strip():
        return "Say which and why: void 12 REASON (12 is the number of its entry)."
    found = _sequence(ledger, which)
    if isinstance(found, str):
        return found
    entry = ledger.entry(found)
    if entry is None:
        return f"There is no entry {found}."
    if entry.kind in (Kind.STOPPED, Kind.NOTE, Kind.VOIDED, Kind.CORRECTED):
        return f"Entry {found} ({entry.kind.value}) holds nothing that could be voided."
    return Draft(
        kind=Kind.VOIDED,
        desk="",
        operator="",
        article=entry.article,
        card=entry.card,
        refers=found,
        remark=why.strip(),
    )


def note(text: str) -> Draft | str:
    """The draft of a note. Desk and operator are left to the caller."""
    if not text:
        return "Say what is to be noted: note TEXT."
    return Draft(kind=Kind.NOTE, desk="", operator="", remark=text)


def piece_entry(ledger: Ledger, text: str) -> Entry | str:
    """The entry of an accepted or stopped piece, to be read anew. Raises LedgerUnusable."""
    found = _sequence(ledger, text)
    if isinstance(found, str):
        return found
    entry = ledger.entry(found)
    if entry is None:
        return f"There is no entry {found}."
    if entry.kind not in (Kind.PAIRED, Kind.STOPPED):
        return f"Entry {found} is no piece; a piece's own entry is corrected."
    return entry


def read_anew(entry: Entry | None) -> tuple[Finding, ...]:
    """What is recorded with a piece that was read anew for an earlier entry."""
    if entry is None:
        return ()
    return (Finding.of(Code.READ_ANEW, entry=entry.sequence),)


def _sequence(ledger: Ledger, text: str) -> int | str:
    digits = text.strip()
    if digits.isascii() and digits.isdigit() and len(digits) <= _LONGEST_SEQUENCE:
        return int(digits)
    number = identify(digits)
    if not isinstance(number, TrackingNumber):
        return f"{digits[:40]!r} is neither an entry nor a label's or card's number."
    held = [piece for piece in ledger.story(number.text).pieces if piece.state is not State.VOID]
    if len(held) != 1:
        return f"{len(held) or 'No'} accepted pieces bear this number; name the entry."
    return held[0].sequence

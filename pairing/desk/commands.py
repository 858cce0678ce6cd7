"""What the desk's words ask of the ledger. A refusal is a remark for the clerk."""

from __future__ import annotations

from collections.abc import Mapping

from pairing.desk.remarks import Remark, Say
from pairing.findings import Code, Finding
from pairing.ledger import Draft, Entry, Kind, Ledger, State
from pairing.model import TrackingNumber
from pairing.numbers import identify

_LONGEST_SEQUENCE = 9
"""Digits of an entry's sequence; every number of a label or card is longer."""


def void(ledger: Ledger, text: str) -> Draft | Remark:
    """The draft that voids an entry: `12 why`, or the label's number and why. Desk and
    operator are left to the caller. Raises LedgerUnusable."""
    which, _, why = text.partition(" ")
    if not which or not why.strip():
        return Remark(code=Say.VOID_HOW)
    found = _sequence(ledger, which)
    if isinstance(found, Remark):
        return found
    entry = ledger.entry(found)
    if entry is None:
        return Remark(code=Say.NO_ENTRY, entry=found)
    if entry.kind in (Kind.STOPPED, Kind.NOTE, Kind.VOIDED, Kind.CORRECTED):
        return Remark(code=Say.NOTHING_TO_VOID, entry=found, text=entry.kind.value)
    return Draft(
        kind=Kind.VOIDED,
        desk="",
        operator="",
        article=entry.article,
        card=entry.card,
        refers=found,
        remark=why.strip(),
    )


def note(text: str) -> Draft | Remark:
    """The draft of a note. Desk and operator are left to the caller."""
    if not text:
        return Remark(code=Say.NOTE_WHAT)
    return Draft(kind=Kind.NOTE, desk="", operator="", remark=text)


def naming(entry: Entry, about: Mapping[str, str]) -> Draft:
    """The note that says for whom and why a piece (or an expected pair) is, after it was
    recorded. Desk and operator are left to the caller."""
    return Draft(
        kind=Kind.NOTE,
        desk="",
        operator="",
        article=entry.article,
        card=entry.card,
        refers=entry.sequence,
        remark=f"Said of entry {entry.sequence}: {', '.join(sorted(about))}.",
        particulars=dict(about),
    )


def piece_entry(ledger: Ledger, text: str) -> Entry | Remark:
    """The entry of a sealed or stopped piece, to be read again. Raises LedgerUnusable."""
    found = _sequence(ledger, text)
    if isinstance(found, Remark):
        return found
    entry = ledger.entry(found)
    if entry is None:
        return Remark(code=Say.NO_ENTRY, entry=found)
    if entry.kind not in (Kind.PAIRED, Kind.STOPPED):
        return Remark(code=Say.NO_PIECE, entry=found)
    return entry


def piece_read_again(ledger: Ledger, entry: Entry) -> Entry:
    """The entry that a piece is read again for: of a piece that was read again before, the one
    that sealed it, so that what comes of it stands with that piece. Raises LedgerUnusable."""
    found: Entry | None = entry
    while found is not None and found.kind is not Kind.PAIRED and found.refers is not None:
        found = ledger.entry(found.refers)
    return found if found is not None and found.kind is Kind.PAIRED else entry


def read_again(entry: Entry | None) -> tuple[Finding, ...]:
    """What is recorded with a piece that was read again for an earlier entry."""
    if entry is None:
        return ()
    return (Finding.of(Code.READ_ANEW, entry=entry.sequence),)


def _sequence(ledger: Ledger, text: str) -> int | Remark:
    digits = text.strip()
    if digits.isascii() and digits.isdigit() and len(digits) <= _LONGEST_SEQUENCE:
        return int(digits)
    number = identify(digits)
    if not isinstance(number, TrackingNumber):
        return Remark(code=Say.NO_NUMBER, text=digits[:40])
    held = [piece for piece in ledger.story(number.text).pieces if piece.state is not State.VOID]
    if len(held) != 1:
        return Remark(code=Say.NOT_ONE_PIECE, count=len(held))
    return held[0].sequence

"""What the desk's words ask of the ledger. A refusal is a remark for the clerk."""

from __future__ import annotations

from collections.abc import Mapping

from pairing.desk.remarks import Remark, Say
from pairing.findings import Code, Finding
from pairing.ledger import Draft, Entry, Kind, Ledger, State
from pairing.model import TrackingNumber
from pairing.numbers import printed
from pairing.numbers.text import is_digits
from pairing.pieces import office_rules

_LONGEST_SEQUENCE = 9
"""Digits of an entry's sequence; every number of a label or card is longer."""

_MOST_GROUPS = 10
"""Groups that a number is printed in at most (an article number behind its routing has nine)."""


def void(ledger: Ledger, text: str) -> Draft | Remark:
    """The draft that voids an entry: `12 why`, or the label's number, in printed groups or not,
    and why. Desk and operator are left to the caller. Raises LedgerUnusable."""
    which, why = _parted(text)
    if not which or not why:
        return Remark(code=Say.VOID_HOW)
    found = _sequence(ledger, which)
    if isinstance(found, Remark):
        return found
    entry = ledger.entry(found)
    if entry is None:
        return Remark(code=Say.NO_ENTRY, entry=found)
    if entry.kind is Kind.STOPPED:
        return Remark(code=Say.STOP_NOT_VOIDED, entry=found)
    if entry.kind in (Kind.NOTE, Kind.VOIDED, Kind.CORRECTED):
        return Remark(code=Say.NOTHING_TO_VOID, entry=found, text=entry.kind.value)
    return _about(entry, Kind.VOIDED, why)


def settle(ledger: Ledger, text: str) -> Draft | Remark:
    """The note that says what became of a stopped piece: `12 how`, or its label's or card's
    number and how. Desk and operator are left to the caller. Raises LedgerUnusable."""
    which, how = _parted(text)
    if not which or not how:
        return Remark(code=Say.SETTLE_HOW)
    if is_digits(which) and len(which) <= _LONGEST_SEQUENCE:
        entry = ledger.entry(int(which))
        if entry is None:
            return Remark(code=Say.NO_ENTRY, entry=int(which))
        if entry.kind is not Kind.STOPPED:
            return Remark(code=Say.NO_STOP, entry=int(which))
        return _about(entry, Kind.NOTE, how)
    number = office_rules.identified(which)
    if not isinstance(number, TrackingNumber):
        return Remark(code=Say.NO_NUMBER, text=which[:40])
    held = [one for one in ledger.story(number.text).entries if one.kind is Kind.STOPPED]
    mine = [one for one in held if number.text in (one.article, one.card)]
    return _about(mine[-1], Kind.NOTE, how) if mine else Remark(code=Say.NOT_STOPPED)


def _about(entry: Entry, kind: Kind, why: str) -> Draft:
    return Draft(
        kind=kind,
        desk="",
        operator="",
        article=entry.article,
        card=entry.card,
        refers=entry.sequence,
        remark=why,
    )


def _parted(text: str) -> tuple[str, str]:
    """Which piece, and the words behind it. A number may be in its printed groups."""
    words = text.split()
    for count in range(min(len(words), _MOST_GROUPS), 1, -1):
        first = "".join(words[:count])
        if isinstance(office_rules.identified(first), TrackingNumber):
            return first, " ".join(words[count:])
    return "".join(words[:1]), " ".join(words[1:])


def described(entry: Entry, *, is_label_hidden: bool) -> str:
    """Which piece an entry is about, in a few words. is_label_hidden: its box may be read next,
    by somebody who must not see the label's number."""
    article = "not shown before its box is read" if is_label_hidden else printed(entry.article)
    parts = [f"{entry.when.astimezone():%H:%M} on {entry.when.astimezone():%Y-%m-%d}"]
    parts += [f"label {article}"] if entry.article else []
    parts += [f"card {printed(entry.card)}"] if entry.card else []
    return ", ".join(parts)


def note(text: str) -> Draft | Remark:
    """The draft of a note. Desk and operator are left to the caller."""
    if not text:
        return Remark(code=Say.NOTE_WHAT)
    return Draft(kind=Kind.NOTE, desk="", operator="", remark=text)


def naming(entry: Entry, about: Mapping[str, str]) -> Draft:
    """The note that says whom a piece (or an expected pair) is for and why, after it was
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
    that sealed it, so that what comes of it is kept with that piece. Raises LedgerUnusable."""
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
    if is_digits(digits) and len(digits) <= _LONGEST_SEQUENCE:
        return int(digits)
    number = office_rules.identified(digits)
    if not isinstance(number, TrackingNumber):
        return Remark(code=Say.NO_NUMBER, text=digits[:40])
    held = [piece for piece in ledger.story(number.text).pieces if piece.state is not State.VOID]
    if len(held) != 1:
        return Remark(code=Say.NOT_ONE_PIECE, count=len(held))
    return held[0].sequence

"""What the ledger records: entries, and the bytes that they are. Pure.

An entry is never changed. What happens to a piece later is a further entry that refers to
it by its sequence; `state` folds them into what is the case now.

An entry's bytes are its members as canonical JSON (RFC 8785): these are hashed, and stored as
they were hashed. Members are sorted by name, so the fields of the classes below are in that
order, and members that say nothing are left out; msgspec writes texts and whole numbers as RFC
8785 wants them (the tests hold it against a library that knows all of RFC 8785).
"""

from __future__ import annotations

from datetime import UTC, datetime
from enum import StrEnum
from typing import Any

import msgspec

from pairing.errors import EntryRefused, LedgerDamaged
from pairing.findings import Finding, Weight
from pairing.model import How, Side, Verdict

VERSION = 1
"""The version of the entries' members; every entry holds it."""

AT_FORMAT = "%Y-%m-%dT%H:%M:%S.%fZ"
"""UTC, microseconds, fixed width: order as text is order in time (a profile of RFC 3339)."""


def at_text(moment: datetime) -> str:
    """A moment as entries hold it. `moment` is aware."""
    utc = moment.astimezone(UTC).replace(tzinfo=None)
    return f"{utc.isoformat(timespec='microseconds')}Z"


def when(at: str) -> datetime:
    """The aware datetime that an entry's `at` says. Raises ValueError for any other text."""
    return datetime.strptime(at, AT_FORMAT).replace(tzinfo=UTC)


class Kind(StrEnum):
    """What an entry says.

    PAIRED: a piece was sealed; it holds its numbers. STOPPED: a piece was not sealed
    (its verdict differs or is unread, or a number is taken); it holds nothing. RETURNED: a
    card came back. VOIDED: the piece, return or expectation referred to does not count.
    CORRECTED: the piece referred to has other numbers than was recorded. EXPECTED: another
    system printed this pair. NOTE: something a person should know; changes no state.
    """

    PAIRED = "paired"
    STOPPED = "stopped"
    RETURNED = "returned"
    VOIDED = "voided"
    CORRECTED = "corrected"
    EXPECTED = "expected"
    NOTE = "note"


class Via(StrEnum):
    """By what a reading came to the desk."""

    SCAN = "scan"
    KEYED = "keyed"
    PHOTO = "photo"


class Observed(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One thing read on the piece, as it is recorded.

    text: the number without blanks; given: what was read, where that is another text.
    photo_sha256: 64 hexadecimal digits where `via` is a photo, else "".
    """

    given: str = ""
    how: How
    photo_sha256: str = ""
    side: Side
    text: str
    via: Via


class RecordedFinding(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A finding as an entry holds it: its code and the sentences that were said then. They are
    hashed, so they stay as they are, and a code of a later version is read as it is."""

    action: str = ""
    code: str
    message: str
    positions: tuple[int, ...] = ()
    weight: Weight


def recorded(finding: Finding) -> RecordedFinding:
    """The finding as it is recorded."""
    said = finding.sentences
    return RecordedFinding(
        action=said.action,
        code=str(finding.code),
        message=said.message,
        positions=finding.positions,
        weight=finding.weight,
    )


class Entry(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """An entry as it was recorded.

    sequence: from 1, without gaps. at: UTC by the desk's clock, `AT_FORMAT`.
    previous: the leaf hash of the entry before, 64 hexadecimal digits (zeros for the first).
    commitment: HMAC-SHA-256 over the particulars, "" where there are none.
    key, refers, remark: as in the draft that it was offered as.
    """

    article: str | None = None
    at: str
    card: str | None = None
    commitment: str = ""
    desk: str
    findings: tuple[RecordedFinding, ...] = ()
    key: str = ""
    kind: Kind
    operator: str
    previous: str
    readings: tuple[Observed, ...] = ()
    refers: int | None = None
    remark: str = ""
    sequence: int
    verdict: Verdict | None = None
    version: int
    written: str | None = None

    @property
    def elsewhere(self) -> str | None:
        """The number in the box where it is not the article's, to find the entry by it."""
        return None if self.written == self.article else self.written

    @property
    def said(self) -> tuple[Finding, ...]:
        """The findings as values of the library, with the sentences that were recorded."""
        return tuple(
            Finding.read_back(
                one.code,
                message=one.message,
                action=one.action,
                weight=one.weight,
                positions=one.positions,
            )
            for one in self.findings
        )

    @property
    def when(self) -> datetime:
        """`at` as an aware datetime."""
        return when(self.at)

    @property
    def name(self) -> str:
        """What people call the piece."""
        return f"entry {self.sequence} of {self.at[:10]} ({self.desk})"


_ENCODER = msgspec.json.Encoder()
_DECODER = msgspec.json.Decoder(Entry)


def encode(entry: Entry) -> bytes:
    """The canonical bytes of an entry. Raises EntryRefused for a text that is no Unicode."""
    try:
        return _ENCODER.encode(entry)
    except UnicodeError as problem:
        raise EntryRefused(
            f"This cannot be written as canonical JSON ({problem})",
            where=str(entry)[:200],
            remedy="Report this: texts should have been cleaned before they came here.",
        ) from problem


def decode(data: bytes, *, where: object) -> Entry:
    """The entry that the bytes are. Raises LedgerDamaged, naming `where`, if they are none."""
    try:
        return _DECODER.decode(data)
    except (ValueError, TypeError, RecursionError) as problem:
        raise LedgerDamaged(
            f"This is not an entry of a ledger ({problem})",
            where=where,
            remedy="Verify the ledger, and go back to the last backup that verifies.",
        ) from problem


def members(entry: Entry) -> dict[str, Any]:
    """The entry as JSON members; empty ones are left out."""
    found: dict[str, Any] = msgspec.json.decode(encode(entry))
    return found


def from_members(found: object) -> Entry:
    """The inverse of `members`. Raises msgspec.ValidationError, a ValueError, for what is no
    entry."""
    return msgspec.convert(found, Entry)


COLUMNS = ("sequence", "at", "kind", "article", "card", "elsewhere", "refers", "key")
"""The columns by which the database finds an entry; they repeat what its bytes say."""


def columns(entry: Entry) -> dict[str, Any]:
    """The values of `COLUMNS`."""
    return {
        "sequence": entry.sequence,
        "at": entry.at,
        "kind": entry.kind.value,
        "article": entry.article,
        "card": entry.card,
        "elsewhere": entry.elsewhere,
        "refers": entry.refers,
        "key": entry.key or None,
    }


class Found(msgspec.Struct, kw_only=True, gc=False):
    """The members that an entry is found by, chained with and held against: reading them costs
    a third of reading the entry."""

    article: str | None = None
    at: str
    card: str | None = None
    commitment: str = ""
    key: str | None = None
    kind: str
    previous: str
    refers: int | None = None
    sequence: int
    written: str | None = None

    def columns(self) -> tuple[Any, ...]:
        """The values of `COLUMNS`, in that order."""
        elsewhere = None if self.written == self.article else self.written
        return (
            self.sequence,
            self.at,
            self.kind,
            self.article,
            self.card,
            elsewhere,
            self.refers,
            self.key or None,
        )


found_by = msgspec.json.Decoder(Found).decode
"""The members that these bytes are found by. Raises ValueError for what is no entry."""

"""What the ledger records: a draft is offered, an entry is what was recorded. Pure.

An entry is never changed. What happens to a piece later is a further entry that refers to
it by its sequence; `state` folds them into what is the case now.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from enum import StrEnum

from pairing.errors import EntryRefused
from pairing.findings import Finding, Weight
from pairing.model import How, Judgement, Reading, Side, Verdict

VERSION = 1
"""The version of the entries' members; it stands in every entry."""

AT_FORMAT = "%Y-%m-%dT%H:%M:%S.%fZ"
"""UTC, microseconds, fixed width: order as text is order in time (a profile of RFC 3339)."""


def at_text(moment: datetime) -> str:
    """A moment as it stands in entries. `moment` is aware."""
    utc = moment.astimezone(UTC).replace(tzinfo=None)
    return f"{utc.isoformat(timespec='microseconds')}Z"


class Kind(StrEnum):
    """What an entry says.

    PAIRED: a piece was accepted; it holds its numbers. STOPPED: a piece was not accepted
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Observed:
    """One thing read on the piece, as it is recorded.

    text: the number without blanks; given: what was read, where that is another text.
    photo_sha256: 64 hexadecimal digits where `via` is a photo, else "".
    """

    side: Side
    how: How
    via: Via
    text: str
    given: str = ""
    photo_sha256: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """An entry as it is offered; the ledger adds sequence, time, hashes and its findings.

    refers: the sequence of the entry that this one is about.
    remark: why (voided), where from (expected), the date signed (returned), or the note.
    key: idempotency key; a key that is offered again gives the first entry. "" for none.
    particulars: names and addresses, kept beside the entry under a commitment, erasable.
    """

    kind: Kind
    desk: str
    operator: str
    article: str | None = None
    card: str | None = None
    written: str | None = None
    verdict: Verdict | None = None
    readings: tuple[Observed, ...] = ()
    findings: tuple[Finding, ...] = ()
    refers: int | None = None
    remark: str = ""
    key: str = ""
    particulars: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """An entry as it was recorded.

    sequence: from 1, without gaps. at: UTC by the desk's clock, `AT_FORMAT`.
    previous: the leaf hash of the entry before, 64 hexadecimal digits (zeros for the first).
    commitment: HMAC-SHA-256 over the particulars, "" where there are none.
    """

    sequence: int
    at: str
    kind: Kind
    desk: str
    operator: str
    previous: str
    article: str | None = None
    card: str | None = None
    written: str | None = None
    verdict: Verdict | None = None
    readings: tuple[Observed, ...] = ()
    findings: tuple[Finding, ...] = ()
    refers: int | None = None
    remark: str = ""
    key: str = ""
    commitment: str = ""
    version: int = VERSION

    @property
    def elsewhere(self) -> str | None:
        """The number in the box where it is not the article's, to find the entry by it."""
        return None if self.written == self.article else self.written

    @property
    def when(self) -> datetime:
        """`at` as an aware datetime."""
        return datetime.strptime(self.at, AT_FORMAT).replace(tzinfo=UTC)

    @property
    def name(self) -> str:
        """What people call the piece."""
        return f"entry {self.sequence} of {self.at[:10]} ({self.desk})"


def observed(reading: Reading, *, photo_sha256: str = "") -> Observed:
    """A reading as it is recorded; with `photo_sha256` it came from that photo."""
    via = Via.KEYED if reading.how is How.KEYED else Via.SCAN
    text, given = reading.number.text, reading.number.given
    return Observed(
        side=reading.side,
        how=reading.how,
        via=Via.PHOTO if photo_sha256 else via,
        text=text,
        given="" if given == text else given,
        photo_sha256=photo_sha256,
    )


def draft_of(
    judgement: Judgement,
    readings: Sequence[Reading],
    *,
    desk: str,
    operator: str,
    photos: Mapping[str, str] | None = None,
) -> Draft:
    """The draft of a judged piece: PAIRED where it agrees, else STOPPED. Key and particulars
    are added with `dataclasses.replace`.

    photos: the source of a reading ("front.jpg") to that photo's SHA-256 in hexadecimal.
    """
    known = photos or {}
    return Draft(
        kind=Kind.PAIRED if judgement.verdict is Verdict.AGREES else Kind.STOPPED,
        desk=desk,
        operator=operator,
        article=judgement.article,
        card=judgement.card,
        written=judgement.written,
        verdict=judgement.verdict,
        readings=tuple(observed(one, photo_sha256=known.get(one.source, "")) for one in readings),
        findings=judgement.findings,
    )


def is_false_pair(one: Draft | Entry) -> bool:
    """Whether it is said to be an accepted pair and is none: its box does not say the label's
    number, or something speaks against it. This program never records such an entry."""
    return one.kind in (Kind.PAIRED, Kind.CORRECTED) and (
        one.verdict is not Verdict.AGREES
        or not one.article
        or one.written != one.article
        or any(finding.weight is not Weight.NOTE for finding in one.findings)
    )


def check_draft(draft: Draft) -> None:
    """Raise `EntryRefused` for a draft that no honest caller offers."""
    if is_false_pair(draft):
        raise EntryRefused(
            "A piece that does not agree cannot be recorded as accepted",
            where=draft.article,
            remedy="Record it as stopped, with its verdict.",
        )
    if draft.kind is Kind.CORRECTED and draft.refers is None:
        raise EntryRefused(
            "A correction does not say which entry it corrects",
            where=draft.article,
            remedy="Give the sequence of the piece's first entry.",
        )
    if draft.kind is Kind.EXPECTED and not draft.article:
        raise EntryRefused(
            "An expected pair has no article number",
            where=draft.remark,
            remedy="Leave the row out, or give its article number.",
        )

"""What is offered to the ledger, and how it becomes the entry that is recorded. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta

import msgspec

from pairing.errors import EntryRefused
from pairing.findings import Code, Finding, Weight
from pairing.ledger.canonical import clean
from pairing.ledger.entries import VERSION, Entry, Kind, Observed, Via, recorded, when
from pairing.ledger.tip import Tip
from pairing.model import How, Judgment, Reading, Verdict

SKEW = timedelta(seconds=5)
"""Desks' clocks may differ by this much before it is said. Common practice, no source: well
above what machines with a time service differ by."""

ERASED = "Names, addresses and photos were erased."
"""The remark of the note that an erasure leaves."""

_REFUSED = {Kind.PAIRED: Kind.STOPPED, Kind.RETURNED: Kind.RETURNED}
"""What a draft that is not accepted is recorded as; the rest become notes. A card that came
back did come back, whatever is wrong with it."""


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
class Ruling:
    """is_accepted: the draft becomes what it was offered as. refers: the entry it is about.
    findings: what the ledger adds."""

    is_accepted: bool
    refers: int | None
    findings: tuple[Finding, ...] = ()


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
    judgment: Judgment,
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
        kind=Kind.PAIRED if judgment.verdict is Verdict.AGREES else Kind.STOPPED,
        desk=desk,
        operator=operator,
        article=judgment.article,
        card=judgment.card,
        written=judgment.written,
        verdict=judgment.verdict,
        readings=tuple(observed(one, photo_sha256=known.get(one.source, "")) for one in readings),
        findings=judgment.findings,
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
            "A piece that does not agree cannot be recorded as sealed",
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


def made(draft: Draft, ruling: Ruling, tip: Tip, at: str, commitment: str) -> Entry:
    """The entry after `tip`."""
    kind, verdict = draft.kind, draft.verdict
    if not ruling.is_accepted:
        kind = _REFUSED.get(kind, Kind.NOTE)
        verdict = None if draft.kind is Kind.VOIDED else _verdict(ruling.findings)
    found = (*draft.findings, *ruling.findings, *_of_clock(tip.at, at))
    return Entry(
        sequence=tip.size + 1,
        at=at,
        kind=kind,
        desk=draft.desk,
        operator=draft.operator,
        previous=tip.leaf.hex(),
        article=draft.article,
        card=draft.card,
        written=draft.written,
        verdict=verdict,
        readings=draft.readings,
        findings=tuple(recorded(one) for one in found),
        refers=ruling.refers,
        remark=draft.remark,
        key=draft.key,
        commitment=commitment,
        version=VERSION,
    )


def cleaned(draft: Draft) -> Draft:
    """The draft with every text such that JSON and both databases hold it unchanged, and no
    number that is an empty text."""
    texts = [draft.desk, draft.operator, draft.remark, draft.key]
    texts += [number for number in (draft.article, draft.card, draft.written) if number]
    for one in draft.readings:
        texts += (one.text, one.given)
    for finding in draft.findings:
        texts += (finding.message, finding.action)
    together = "".join(texts)
    is_plain = together.isascii() and "\0" not in together
    if is_plain and "" not in (draft.article, draft.card, draft.written):
        return draft
    return replace(
        draft,
        desk=clean(draft.desk),
        operator=clean(draft.operator),
        article=clean(draft.article) if draft.article else None,
        card=clean(draft.card) if draft.card else None,
        written=clean(draft.written) if draft.written else None,
        readings=tuple(
            msgspec.structs.replace(one, text=clean(one.text), given=clean(one.given))
            for one in draft.readings
        ),
        findings=tuple(one.with_texts(clean) for one in draft.findings),
        remark=clean(draft.remark),
        key=clean(draft.key),
    )


def is_same(draft: Draft, entry: Entry) -> bool:
    """Whether the draft is the one that became this entry, offered again."""
    return (
        (draft.article, draft.card, draft.written, draft.remark, draft.readings)
        == (entry.article, entry.card, entry.written, entry.remark, entry.readings)
        and entry.kind in (draft.kind, _REFUSED.get(draft.kind, Kind.NOTE))
        and (draft.refers is None or draft.refers == entry.refers or entry.refers is None)
    )


def _verdict(findings: Sequence[Finding]) -> Verdict:
    is_clash = any(finding.weight is Weight.CLASH for finding in findings)
    return Verdict.DIFFERS if is_clash else Verdict.UNREAD


def _of_clock(before: str, at: str) -> tuple[Finding, ...]:
    if not before or at >= before:
        return ()
    back = when(before) - when(at)
    if back <= SKEW:
        return ()
    return (Finding.of(Code.CLOCK_SET_BACK, weight=Weight.NOTE, before=before, now=at),)

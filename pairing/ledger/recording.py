"""From a draft and the ledger's ruling on it to the entry that is recorded. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from pairing.findings import Code, Finding, Weight
from pairing.ledger.canonical import clean
from pairing.ledger.edge import Edge
from pairing.ledger.entries import AT_FORMAT, Draft, Entry, Kind
from pairing.ledger.findings import Ruling
from pairing.model import Verdict

SKEW = timedelta(seconds=5)
"""Desks' clocks may differ by this much before it is said. Common practice, no source: well
above what machines with a time service differ by."""

_REFUSED = {Kind.PAIRED: Kind.STOPPED, Kind.RETURNED: Kind.RETURNED}
"""What a draft that is not accepted is recorded as; the rest become notes. A card that came
back did come back, whatever is wrong with it."""


def made(draft: Draft, ruling: Ruling, edge: Edge, at: str, commitment: str) -> Entry:
    """The entry after `edge`."""
    kind, verdict = draft.kind, draft.verdict
    if not ruling.is_accepted:
        kind = _REFUSED.get(kind, Kind.NOTE)
        verdict = None if draft.kind is Kind.VOIDED else _verdict(ruling.findings)
    found = (*draft.findings, *ruling.findings, *_of_clock(edge.at, at))
    return Entry(
        sequence=edge.size + 1,
        at=at,
        kind=kind,
        desk=draft.desk,
        operator=draft.operator,
        previous=edge.leaf.hex(),
        article=draft.article,
        card=draft.card,
        written=draft.written,
        verdict=verdict,
        readings=draft.readings,
        findings=tuple(one.as_stored() for one in found),
        refers=ruling.refers,
        remark=draft.remark,
        key=draft.key,
        commitment=commitment,
    )


def columns(entry: Entry) -> dict[str, Any]:
    """The members that the entry is found by."""
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
            replace(one, text=clean(one.text), given=clean(one.given)) for one in draft.readings
        ),
        findings=tuple(one.as_stored().with_texts(clean) for one in draft.findings),
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
    back = _time(before) - _time(at)
    if back <= SKEW:
        return ()
    return (Finding.of(Code.CLOCK_SET_BACK, weight=Weight.NOTE, before=before, now=at),)


def _time(at: str) -> datetime:
    return datetime.strptime(at, AT_FORMAT).replace(tzinfo=UTC)

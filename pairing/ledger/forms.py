"""Entries as JSON members and back. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pairing.findings import Finding, Weight
from pairing.ledger.entries import Entry, Kind, Observed, Via
from pairing.model import How, Side, Verdict

_TEXTS = (
    "at", "desk", "operator", "previous", "article", "card", "written", "remark", "key",
    "commitment",
)  # fmt: skip


def members(entry: Entry) -> dict[str, Any]:
    """The entry as JSON members. Empty members are left out; words of a fixed list stand as
    they are, being texts themselves."""
    found: dict[str, Any] = {
        "at": entry.at,
        "desk": entry.desk,
        "kind": entry.kind,
        "operator": entry.operator,
        "previous": entry.previous,
        "sequence": entry.sequence,
        "version": entry.version,
    }
    if entry.article is not None:
        found["article"] = entry.article
    if entry.card is not None:
        found["card"] = entry.card
    if entry.written is not None:
        found["written"] = entry.written
    if entry.refers is not None:
        found["refers"] = entry.refers
    if entry.remark:
        found["remark"] = entry.remark
    if entry.key:
        found["key"] = entry.key
    if entry.commitment:
        found["commitment"] = entry.commitment
    if entry.verdict is not None:
        found["verdict"] = entry.verdict
    if entry.readings:
        found["readings"] = [_reading_members(one) for one in entry.readings]
    if entry.findings:
        found["findings"] = [_finding_members(one) for one in entry.findings]
    return found


def from_members(found: Mapping[str, Any]) -> Entry:
    """The inverse of `members`. KeyError, ValueError, TypeError where it is no entry."""
    verdict = found.get("verdict")
    if not all(isinstance(found.get(name, ""), str) for name in _TEXTS):
        raise TypeError(_TEXTS)
    if not isinstance(found.get("refers", 0), int):
        raise TypeError(found["refers"])
    return Entry(
        sequence=int(found["sequence"]),
        at=found["at"],
        kind=Kind(found["kind"]),
        desk=found["desk"],
        operator=found["operator"],
        previous=found["previous"],
        article=found.get("article"),
        card=found.get("card"),
        written=found.get("written"),
        verdict=None if verdict is None else Verdict(verdict),
        readings=tuple(_reading_from(one) for one in found.get("readings", ())),
        findings=tuple(_finding_from(one) for one in found.get("findings", ())),
        refers=found.get("refers"),
        remark=found.get("remark", ""),
        key=found.get("key", ""),
        commitment=found.get("commitment", ""),
        version=int(found["version"]),
    )


def _reading_members(one: Observed) -> dict[str, Any]:
    found: dict[str, Any] = {
        "how": one.how,
        "side": one.side,
        "text": one.text,
        "via": one.via,
    }
    if one.given:
        found["given"] = one.given
    if one.photo_sha256:
        found["photo_sha256"] = one.photo_sha256
    return found


def _reading_from(found: Mapping[str, Any]) -> Observed:
    _check_texts(found, ("text", "given", "photo_sha256"))
    return Observed(
        side=Side(found["side"]),
        how=How(found["how"]),
        via=Via(found["via"]),
        text=found["text"],
        given=found.get("given", ""),
        photo_sha256=found.get("photo_sha256", ""),
    )


def _finding_members(one: Finding) -> dict[str, Any]:
    found: dict[str, Any] = {"code": one.code, "message": one.message, "weight": one.weight}
    if one.action:
        found["action"] = one.action
    if one.positions:
        found["positions"] = list(one.positions)
    return found


def _finding_from(found: Mapping[str, Any]) -> Finding:
    _check_texts(found, ("code", "message", "action"))
    if not all(isinstance(one, int) for one in found.get("positions", ())):
        raise TypeError(found["positions"])
    return Finding.read_back(
        found["code"],
        message=found["message"],
        positions=tuple(found.get("positions", ())),
        action=found.get("action", ""),
        weight=Weight(found["weight"]),
    )


def _check_texts(found: Mapping[str, Any], names: Sequence[str]) -> None:
    """What comes from a file may be anything."""
    for name in names:
        if not isinstance(found.get(name, ""), str):
            raise TypeError(found[name])

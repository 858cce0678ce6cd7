"""One piece's evidence, to be given out alone and checked without the rest of the ledger.

A proof holds the piece's entries, for each its inclusion proof (RFC 9162, 2.1.3), the signed
head and the public key. It shows that these entries were in the ledger when the head was
signed; that nothing was added about the piece later, it cannot show.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pairing.errors import EntryRefused, ProofUnusable
from pairing.findings import Code, Finding
from pairing.ledger.canonical import canonical, encode
from pairing.ledger.entries import Entry, is_false_pair
from pairing.ledger.forms import from_members, members
from pairing.ledger.heads import Head
from pairing.ledger.keys import key_id
from pairing.ledger.privacy import commit
from pairing.ledger.state import Piece, fold
from pairing.ledger.tree import Subtree, inclusion, is_included, leaf_hash

FORMAT = "counterfoil proof 1"


_UNUSABLE = (
    ValueError,
    KeyError,
    TypeError,
    AttributeError,
    OverflowError,  # 1e999 for a whole number
    RecursionError,  # brackets without end
    EntryRefused,  # what canonical JSON cannot say
)
"""What bytes from anywhere may run into while they are taken apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """What opens an entry's commitment: names and addresses, and their salt."""

    salt: bytes
    content: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofCheck:
    """What a proof is worth.

    entries, piece: what it shows; the piece as it stood under the head, None where the
    entries open none. key_id: who signed; compare it with the key id that the desk gave out,
    for anybody can sign with a key of their own. findings: what is wrong; none if it holds.
    particulars: by entry, where the proof opens them.
    """

    entries: tuple[Entry, ...]
    piece: Piece | None
    head: Head
    key_id: str
    findings: tuple[Finding, ...]
    particulars: Mapping[int, Mapping[str, str]]

    @property
    def holds(self) -> bool:
        """Whether every part of it fits."""
        return not self.findings


def make(
    entries: Sequence[Entry],
    head: Head,
    subtree: Subtree,
    openings: Mapping[int, Opening] | None = None,
) -> bytes:
    """The proof file: canonical JSON and a line end."""
    rows = []
    for entry in entries:
        path = inclusion(entry.sequence - 1, head.size, subtree)
        row: dict[str, Any] = {"entry": members(entry), "path": [one.hex() for one in path]}
        if opening := (openings or {}).get(entry.sequence):
            row["particulars"] = json.loads(opening.content)
            row["salt"] = opening.salt.hex()
        rows.append(row)
    body = {
        "entries": rows,
        "format": FORMAT,
        "head": {
            "at": head.at,
            "day": head.day,
            "root": head.root.hex(),
            "signature": head.signature.hex(),
            "size": head.size,
        },
        "public_key": head.public.hex(),
    }
    return canonical(body) + b"\n"


def check(data: bytes, *, trusted_key: str = "", where: object = "proof") -> ProofCheck:
    """Check a proof file's bytes.

    trusted_key: the key id that the desk gave out; "" where it is not known.
    Raises ProofUnusable, naming `where`, for bytes that are no proof at all.
    """
    try:
        found = json.loads(data)
        head = _head(found)
        rows = [(from_members(row["entry"]), row) for row in found["entries"]]
        findings = [*_of_head(head, trusted_key), *_of_all([entry for entry, _ in rows])]
        for entry, row in rows:
            _ = entry.when  # an entry without a time is none
            findings += _of_entry(entry, row, head)
    except _UNUSABLE as problem:
        raise ProofUnusable(
            f"This is no proof of this program ({type(problem).__name__}: {problem})",
            where=where,
            remedy="Ask for the file again; it must arrive unchanged.",
        ) from problem
    entries = tuple(sorted((entry for entry, _ in rows), key=lambda one: one.sequence))
    return ProofCheck(
        entries=entries,
        piece=next(iter(fold(entries).pieces.values()), None),
        head=head,
        key_id=head.key_id,
        findings=tuple(findings),
        particulars={
            entry.sequence: row["particulars"] for entry, row in rows if "particulars" in row
        },
    )


def _head(found: Mapping[str, Any]) -> Head:
    if found["format"] != FORMAT:
        raise ValueError(found["format"])
    public = bytes.fromhex(found["public_key"])
    head = found["head"]
    if not isinstance(head["day"], str) or not isinstance(head["at"], str):
        raise TypeError(head)
    return Head(
        size=int(head["size"]),
        root=bytes.fromhex(head["root"]),
        day=head["day"],
        at=head["at"],
        public=public,
        key_id=key_id(public),
        signature=bytes.fromhex(head["signature"]),
    )


def _of_head(head: Head, trusted_key: str) -> Sequence[Finding]:
    findings = []
    if not head.is_genuine:
        findings.append(Finding.of(Code.PROOF_SIGNATURE))
    if trusted_key and trusted_key.lower() != head.key_id:
        findings.append(Finding.of(Code.PROOF_KEY))
    return findings


def _of_all(entries: Sequence[Entry]) -> Sequence[Finding]:
    """A head that is signed for nothing shown, or an entry shown twice, proves nothing."""
    if not entries:
        return [Finding.of(Code.PROOF_EMPTY)]
    if len({one.sequence for one in entries}) < len(entries):
        return [Finding.of(Code.PROOF_ENTRY)]
    return []


def _of_entry(entry: Entry, row: Mapping[str, Any], head: Head) -> Sequence[Finding]:
    findings = []
    data = encode(entry)
    path = [bytes.fromhex(one) for one in row["path"]]
    # What is checked must be what is shown: members that are no entry's are not overlooked.
    is_whole = canonical(row["entry"]) == data
    if not is_whole or not is_included(
        leaf_hash(data), entry.sequence - 1, head.size, path, head.root
    ):
        findings.append(Finding.of(Code.PROOF_ENTRY, entry=entry.sequence))
    if is_false_pair(entry):
        findings.append(Finding.of(Code.PROOF_PAIR, entry=entry.sequence))
    if not all(isinstance(one, str) for one in row.get("particulars", {}).values()):
        raise TypeError(row["particulars"])
    if "particulars" in row and entry.commitment != commit(
        bytes.fromhex(row["salt"]), canonical(row["particulars"])
    ):
        findings.append(Finding.of(Code.PROOF_PARTICULARS, entry=entry.sequence))
    return findings

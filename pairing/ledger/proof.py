"""One piece's evidence, to be given out alone and checked without the rest of the ledger.

A proof holds the piece's entries, for each its inclusion proof (RFC 9162, 2.1.3), the signed
head and the public key. It shows that these entries were in the ledger when the head was
signed; that nothing was added about the piece later, it cannot show.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import msgspec
from sqlalchemy import select

from pairing.errors import EntryRefused, ProofUnusable
from pairing.findings import Code, Finding
from pairing.ledger import queries
from pairing.ledger.canonical import canonical, names_in
from pairing.ledger.database import Database
from pairing.ledger.drafts import is_false_pair
from pairing.ledger.entries import Entry, encode, from_members, members
from pairing.ledger.erasable import commit
from pairing.ledger.heads import Head
from pairing.ledger.keys import key_id
from pairing.ledger.schema import ENTRIES, PARTICULARS
from pairing.ledger.state import Piece, fold
from pairing.ledger.tip import subtree_in
from pairing.ledger.tree import Subtree, inclusion, is_included, leaf_hash
from pairing.ledger.writer import Writer

FORMAT = "counterfoil proof 1"


_UNUSABLE = (
    ValueError,  # what is no proof's JSON, and texts that are no hexadecimal digits
    RecursionError,  # brackets without end
    EntryRefused,  # what canonical JSON cannot say
)
"""What bytes from anywhere may run into while they are taken apart."""


class _HeadMembers(msgspec.Struct, kw_only=True):
    at: str
    day: str
    root: str
    signature: str
    size: int


class _Shown(msgspec.Struct, kw_only=True):
    """An entry of the proof. `entry` is kept as it was given: what is checked must be what is
    shown, and members that are no entry's are not overlooked."""

    entry: dict[str, Any]
    particulars: dict[str, str] | msgspec.UnsetType = msgspec.UNSET
    path: list[str]
    salt: str | msgspec.UnsetType = msgspec.UNSET


class _Proof(msgspec.Struct, kw_only=True):
    entries: list[_Shown]
    format: str
    head: _HeadMembers
    public_key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """What opens an entry's commitment: names and addresses, and their salt."""

    salt: bytes
    content: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofCheck:
    """What a proof is worth.

    entries, piece: what it shows; the piece as it was under the head, None where the
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
        """Whether every part of it matches."""
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
        opening = (openings or {}).get(entry.sequence)
        rows.append(
            _Shown(
                entry=members(entry),
                particulars=names_in(opening.content) if opening else msgspec.UNSET,
                path=[one.hex() for one in path],
                salt=opening.salt.hex() if opening else msgspec.UNSET,
            )
        )
    body = _Proof(
        entries=rows,
        format=FORMAT,
        head=_HeadMembers(
            at=head.at,
            day=head.day,
            root=head.root.hex(),
            signature=head.signature.hex(),
            size=head.size,
        ),
        public_key=head.public.hex(),
    )
    return canonical(msgspec.to_builtins(body)) + b"\n"


def check(data: bytes, *, trusted_key: str = "", where: object = "proof") -> ProofCheck:
    """Check a proof file's bytes.

    trusted_key: the key id that the desk gave out; "" where it is not known.
    Raises ProofUnusable, naming `where`, for bytes that are no proof at all.
    """
    try:
        found = msgspec.json.decode(data, type=_Proof)
        head = _head(found)
        rows = [(from_members(row.entry), row) for row in found.entries]
        findings = [*_of_head(head, trusted_key), *_of_all([entry for entry, _ in rows])]
        for entry, row in rows:
            _ = entry.when  # an entry without a time is none
            findings += _of_entry(entry, row, head)
    except _UNUSABLE as problem:
        raise ProofUnusable(
            f"This is not a proof of this program ({problem})",
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
            entry.sequence: row.particulars
            for entry, row in rows
            if isinstance(row.particulars, dict)
        },
    )


def _head(found: _Proof) -> Head:
    if found.format != FORMAT:
        raise ValueError(found.format)
    public = bytes.fromhex(found.public_key)
    return Head(
        size=found.head.size,
        root=bytes.fromhex(found.head.root),
        day=found.head.day,
        at=found.head.at,
        public=public,
        key_id=key_id(public),
        signature=bytes.fromhex(found.head.signature),
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


def _of_entry(entry: Entry, row: _Shown, head: Head) -> Sequence[Finding]:
    findings = []
    data = encode(entry)
    path = [bytes.fromhex(one) for one in row.path]
    is_whole = canonical(row.entry) == data
    if not is_whole or not is_included(
        leaf_hash(data), entry.sequence - 1, head.size, path, head.root
    ):
        findings.append(Finding.of(Code.PROOF_ENTRY, entry=entry.sequence))
    if is_false_pair(entry):
        findings.append(Finding.of(Code.PROOF_PAIR, entry=entry.sequence))
    if isinstance(row.particulars, dict) and entry.commitment != commit(
        bytes.fromhex(row.salt or ""), canonical(row.particulars)
    ):
        findings.append(Finding.of(Code.PROOF_PARTICULARS, entry=entry.sequence))
    return findings


def proof_of(database: Database, writer: Writer, number: str, *, with_particulars: bool) -> bytes:
    """The proof file of the latest piece that has this number, under a head signed now.
    Raises ProofUnusable where no sealed piece has it."""
    pieces = queries.story(database, number).pieces
    head = writer.sign_head() if pieces else None
    if head is None:
        raise ProofUnusable(
            "No sealed piece has this number",
            where=number,
            remedy="Look at the number's history; what was stopped has no proof.",
        )
    history = [queries.entry(database, sequence) for sequence in pieces[-1].history]
    entries = [one for one in history if one is not None]
    openings = _openings(database, entries) if with_particulars else {}
    with database.reading() as connection:

        def subtree(level: int, index: int) -> bytes:
            wanted = select(ENTRIES.c.nodes).where(ENTRIES.c.sequence == (index + 1) << level)
            nodes = connection.execute(wanted).scalar()
            return subtree_in(nodes or b"", level, index, database.where)

        return make(entries, head, subtree, openings)


def _openings(database: Database, entries: Sequence[Entry]) -> dict[int, Opening]:
    sequences = [one.sequence for one in entries]
    with database.reading() as connection:
        return {
            row.sequence: Opening(salt=bytes(row.salt), content=bytes(row.content))
            for row in connection.execute(
                select(PARTICULARS).where(PARTICULARS.c.sequence.in_(sequences))
            )
        }

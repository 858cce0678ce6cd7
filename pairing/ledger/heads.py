"""Signed heads: what the whole ledger was at a size, vouched for by a key."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import msgspec
from sqlalchemy import select

from pairing.ledger.canonical import canonical
from pairing.ledger.keys import Signer, is_signed, key_id
from pairing.ledger.schema import HEADS, SIGNERS

PURPOSE = "counterfoil ledger head"
"""Part of what is signed, so that a signature cannot be taken for one on something else."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """The tree's root over the first `size` entries.

    day: the day (UTC) that it closes. at: when it was signed, as an entry's `at`.
    """

    size: int
    root: bytes
    day: str
    at: str
    public: bytes
    key_id: str
    signature: bytes

    @property
    def is_genuine(self) -> bool:
        """Whether the signature is the key's over size, root, day and time."""
        return is_signed(
            self.public,
            _signed(self.size, self.root, self.day, self.at, self.key_id),
            self.signature,
        )


def sign(signer: Signer, *, size: int, root: bytes, day: str, at: str) -> Head:
    """A head, signed."""
    return Head(
        size=size,
        root=root,
        day=day,
        at=at,
        public=signer.public,
        key_id=signer.key_id,
        signature=signer.sign(_signed(size, root, day, at, signer.key_id)),
    )


def row(head: Head) -> dict[str, Any]:
    """The head's columns."""
    return {
        "size": head.size,
        "key_id": head.key_id,
        "day": head.day,
        "at": head.at,
        "root": head.root,
        "signature": head.signature,
    }


def from_row(found: Any) -> Head:
    """The head of a row of `ALL`."""
    return Head(
        size=found.size,
        root=bytes(found.root),
        day=found.day,
        at=found.at,
        public=bytes(found.public),
        key_id=found.key_id,
        signature=bytes(found.signature),
    )


class HeadMembers(msgspec.Struct, frozen=True, kw_only=True):
    """A head as exports and proofs hold it, sorted by name; bytes in hexadecimal."""

    at: str
    day: str
    public_key: str
    root: str
    signature: str
    size: int


def members(head: Head) -> HeadMembers:
    """The head as it is written out."""
    return HeadMembers(
        at=head.at,
        day=head.day,
        public_key=head.public.hex(),
        root=head.root.hex(),
        signature=head.signature.hex(),
        size=head.size,
    )


def from_members(found: HeadMembers) -> Head:
    """The inverse of `members`. Raises ValueError where the signature is not the key's."""
    public = bytes.fromhex(found.public_key)
    head = Head(
        size=found.size,
        root=bytes.fromhex(found.root),
        day=found.day,
        at=found.at,
        public=public,
        key_id=key_id(public),
        signature=bytes.fromhex(found.signature),
    )
    if not head.is_genuine:
        raise ValueError(found.signature)
    return head


ALL = (
    select(HEADS, SIGNERS.c.public)
    .join(SIGNERS, SIGNERS.c.key_id == HEADS.c.key_id)
    .order_by(HEADS.c.size, HEADS.c.key_id)
)
"""Every head with its signer's public key, in the order of size."""


def _signed(size: int, root: bytes, day: str, at: str, key_id: str) -> bytes:
    return canonical(
        {"at": at, "day": day, "key": key_id, "purpose": PURPOSE, "root": root.hex(), "size": size}
    )

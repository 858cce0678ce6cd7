"""Names and addresses, beside the entries: an entry holds only a commitment to them.

The commitment is HMAC-SHA-256 (RFC 2104) over their canonical bytes under 32 random bytes of
salt. Salt and contents are erased together; what stays in the entry then tells nothing, and
the chain still holds.
"""

from __future__ import annotations

import hmac
import json
import os
from collections.abc import Mapping
from dataclasses import dataclass

from pairing.ledger.canonical import canonical, clean

SALT_BYTES = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class Sealed:
    """Particulars as they are stored, and the commitment that stands in the entry."""

    salt: bytes
    content: bytes
    commitment: str


def seal(particulars: Mapping[str, str]) -> Sealed:
    """Particulars under a new salt."""
    salt = os.urandom(SALT_BYTES)
    content = canonical({clean(name): clean(value) for name, value in particulars.items()})
    return Sealed(salt=salt, content=content, commitment=commit(salt, content))


def commit(salt: bytes, content: bytes) -> str:
    """The commitment, 64 hexadecimal digits."""
    return hmac.new(salt, content, "sha256").hexdigest()


def opened(content: bytes) -> dict[str, str]:
    """The particulars that the stored bytes are."""
    found: dict[str, str] = json.loads(content)
    return found

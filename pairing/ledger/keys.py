"""The Ed25519 key (RFC 8032) that signs the tree's heads; made on first use."""

from __future__ import annotations

import contextlib
import os
import tempfile
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
)

from pairing.errors import LedgerUnusable
from pairing.ledger.failures import as_ledger_errors
from pairing.output import flush_folder

PRIVATE_MODE = 0o600
PRIVATE_FOLDER_MODE = 0o700


@dataclass(frozen=True, slots=True, kw_only=True)
class Signer:
    """A key that signs. public: its 32 public bytes; key_id: their SHA-256 in hexadecimal."""

    public: bytes
    key_id: str
    private: Ed25519PrivateKey

    def sign(self, message: bytes) -> bytes:
        """The 64 bytes of the signature."""
        return self.private.sign(message)


def key_id(public: bytes) -> str:
    """What names a public key: the SHA-256 of its 32 bytes, in hexadecimal."""
    return sha256(public).hexdigest()


def is_signed(public: bytes, message: bytes, signature: bytes) -> bool:
    """Whether `signature` is this key's over `message`. Never raises."""
    try:
        Ed25519PublicKey.from_public_bytes(public).verify(signature, message)
    except (InvalidSignature, ValueError, TypeError):
        return False
    return True


def load_or_make(path: Path) -> Signer:
    """The key in this file (PKCS #8, PEM); a new one, readable for its owner alone, where
    there is none. Raises LedgerUnusable where the file is no such key or cannot be used."""
    with as_ledger_errors(str(path)):
        if not path.exists():
            _make(path)
        data = path.read_bytes()
    try:
        private = load_pem_private_key(data, password=None)
    except (ValueError, TypeError) as problem:
        raise _no_key(path) from problem
    if not isinstance(private, Ed25519PrivateKey):
        raise _no_key(path)
    public = private.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)
    return Signer(public=public, key_id=key_id(public), private=private)


def is_private(path: Path) -> bool:
    """Whether nobody but its owner may read this file."""
    return not path.exists() or path.stat().st_mode & 0o077 == 0 or os.name == "nt"


def make_private(path: Path) -> None:
    """An empty file that its owner alone may read, where there is none. SQLite gives its logs the
    same mode. Where it cannot be made, whoever opens it says so."""
    with contextlib.suppress(OSError):
        os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, PRIVATE_MODE))


def _make(path: Path) -> None:
    """Write the key elsewhere and link it in: of two desks one wins, and no half key shows."""
    path.parent.mkdir(parents=True, exist_ok=True, mode=PRIVATE_FOLDER_MODE)
    data = Ed25519PrivateKey.generate().private_bytes(
        Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()
    )
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(PRIVATE_MODE)
        with contextlib.suppress(FileExistsError):
            os.link(name, path)
            flush_folder(path.parent)
    finally:
        Path(name).unlink()


def _no_key(path: Path) -> LedgerUnusable:
    return LedgerUnusable(
        "This is not an Ed25519 key",
        where=str(path),
        remedy="Bring the key back from a backup, or move the file away; a new key is made.",
    )

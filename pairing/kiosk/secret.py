"""The access token and the operator's PIN: shown once when they are made, stored hashed.

Hashes are argon2id (RFC 9106) in the PHC string format, which holds the parameters beside the
hash: raising the cost locks nobody out, and a secret whose hash is of an older kind or cost is
hashed again when it is next given rightly.
"""

from __future__ import annotations

import base64
import contextlib
import hashlib
import hmac
import json
import os
import secrets
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import msgspec
import platformdirs
from argon2 import PasswordHasher
from argon2.exceptions import Argon2Error, InvalidHashError
from argon2.profiles import RFC_9106_LOW_MEMORY

from pairing import output, whole_file
from pairing.errors import OutputRefused

_ARGON2 = PasswordHasher.from_parameters(RFC_9106_LOW_MEMORY)
"""RFC 9106, section 4, second recommended option: 3 passes over 64 MiB in 4 lanes."""

_SCRYPT_N, _SCRYPT_R, _SCRYPT_P = 2**14, 8, 5
"""The parameters of every hash that versions before argon2 stored (`scrypt$salt$hash`)."""

_SCRYPT_MEMORY = 64 * 1024 * 1024
TOKEN_BYTES = 32
PIN_DIGITS = 8
_MOST_BYTES = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Secrets:
    """Hashes, "" where there is none."""

    token: str = ""
    pin: str = ""


class _Stored(msgspec.Struct, forbid_unknown_fields=True):
    """The file. One with other members is somebody else's, and would be written over."""

    token: str = ""
    pin: str = ""


def default_path() -> Path:
    """Where the hashes lie unless another file is named."""
    return platformdirs.user_data_path("counterfoil") / "kiosk.json"


def new_token() -> str:
    """A token for other machines: 32 random bytes, URL-safe."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def new_pin() -> str:
    """An operator's PIN: eight random digits."""
    return "".join(secrets.choice("0123456789") for _ in range(PIN_DIGITS))


def hashed(secret: str) -> str:
    """A secret as it is stored."""
    return _ARGON2.hash(secret.encode("utf-8", "replace"))


def is_right(secret: str, stored: str) -> bool:
    """Whether `secret` is the one behind `stored`. False for anything that is no hash."""
    given = secret.encode("utf-8", "replace")
    if stored.startswith("scrypt$"):
        return _is_right_by_scrypt(given, stored)
    try:
        return _ARGON2.verify(stored, given)
    except (Argon2Error, InvalidHashError, ValueError):
        return False


def needs_rehash(stored: str) -> bool:
    """Whether a hash is of another kind or cost than `hashed` makes now."""
    try:
        return _ARGON2.check_needs_rehash(stored)
    except InvalidHashError:
        return True


def load(path: Path) -> Secrets:
    """The stored hashes; none where there is no such file. Raises OutputRefused for a file
    that cannot be used: a kiosk must not come up without the PIN that it had."""
    try:
        stored = msgspec.json.decode(whole_file.read(path, _MOST_BYTES), type=_Stored)
        return Secrets(token=stored.token, pin=stored.pin)
    except FileNotFoundError:
        return Secrets()
    except (OSError, ValueError, RecursionError) as error:
        raise OutputRefused(
            f"The file with the kiosk's hashed token and PIN cannot be read ({error})",
            where=str(path),
            remedy="Repair it, or remove it and make a new token and PIN.",
        ) from error


def save(path: Path, kept: Secrets) -> None:
    """Store hashes, for their owner alone to read. Raises OutputRefused."""
    data = json.dumps({"token": kept.token, "pin": kept.pin}).encode()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputRefused(
            f"The kiosk's hashed token and PIN cannot be stored ({error.strerror or error})",
            where=str(path),
            remedy="Name a file that you may write to.",
        ) from error
    output.replace(path, [data], is_private=True, remedy="Name a file that you may write to.")


class SecretFile:
    """The file of hashes of a running service, in which a hash is renewed."""

    def __init__(self, path: Path, kept: Secrets) -> None:
        self._path = path
        self._kept = kept
        self._turn = threading.Lock()

    def renew(self, **changed: str) -> None:
        """Store new hashes, `token` or `pin`. Where that fails the old ones stay good."""
        with self._turn:
            self._kept = replace(self._kept, **changed)
            with contextlib.suppress(OutputRefused):
                save(self._path, self._kept)


class Checked:
    """Compares secrets with a stored hash; one that was right is known again at once.

    The slow hash would otherwise be paid for with each request. What is kept of a right
    secret is its HMAC under a key that dies with the process.

    on_renewed: called with a new hash of the secret where the stored one is of another kind or
    cost than hashes are made with now.
    """

    def __init__(self, stored: str, on_renewed: Callable[[str], None] = lambda _: None) -> None:
        self._stored = stored
        self._on_renewed = on_renewed
        self._key = os.urandom(32)
        self._known = b""
        self._turn = threading.Lock()  # one hash at a time: each takes 64 MiB

    def is_known(self, secret: str) -> bool:
        """Whether the secret was found right before; quick."""
        return bool(self._known) and hmac.compare_digest(self._known, self._mac(secret))

    def is_right(self, secret: str) -> bool:
        """Whether the secret is right; slow for one that is not known."""
        if self.is_known(secret):
            return True
        with self._turn:
            if not is_right(secret, self._stored):
                return False
            self._known = self._mac(secret)
            if needs_rehash(self._stored):
                self._stored = hashed(secret)
                self._on_renewed(self._stored)
            return True

    def _mac(self, secret: str) -> bytes:
        return hmac.new(self._key, secret.encode("utf-8", "replace"), "sha256").digest()


def _is_right_by_scrypt(secret: bytes, stored: str) -> bool:
    """As versions before argon2 stored it: scrypt (RFC 7914), salt and hash in base64."""
    try:
        _, salt, wanted = stored.split("$")
        expected = base64.b64decode(wanted, validate=True)
        given = hashlib.scrypt(
            secret,
            salt=base64.b64decode(salt, validate=True),
            n=_SCRYPT_N,
            r=_SCRYPT_R,
            p=_SCRYPT_P,
            maxmem=_SCRYPT_MEMORY,
            dklen=32,
        )
    except ValueError:
        return False
    return hmac.compare_digest(given, expected)

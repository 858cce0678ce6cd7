"""The access token and the operator's PIN: shown once when they are made, stored hashed."""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import os
import secrets
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import platformdirs

from pairing.errors import OutputRefused

_COST_N, _COST_R, _COST_P = 2**14, 8, 5
"""scrypt (RFC 7914) at a cost of 16 MB and some 0.1 s; parameters from memory of OWASP's
password storage sheet."""

_MEMORY = 64 * 1024 * 1024
TOKEN_BYTES = 32
PIN_DIGITS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Secrets:
    """Hashes, "" where there is none. As stored: `scrypt$salt$hash`, both base64."""

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
    salt = os.urandom(16)
    return f"scrypt${_text(salt)}${_text(_scrypt(secret, salt))}"


def is_right(secret: str, stored: str) -> bool:
    """Whether `secret` is the one behind `stored`. False for anything that is no hash."""
    try:
        kind, salt, wanted = stored.split("$")
        expected = base64.b64decode(wanted, validate=True)
        given = _scrypt(secret, base64.b64decode(salt, validate=True))
    except ValueError:
        return False
    return kind == "scrypt" and hmac.compare_digest(given, expected)


def load(path: Path) -> Secrets:
    """The stored hashes; none where there is no such file. Raises OutputRefused for a file
    that cannot be used: a kiosk must not come up without the PIN that it had."""
    try:
        found: Any = json.loads(path.read_text("utf-8"))
        return Secrets(token=str(found.get("token", "")), pin=str(found.get("pin", "")))
    except FileNotFoundError:
        return Secrets()
    except (OSError, ValueError, AttributeError) as error:
        raise OutputRefused(
            f"The file with the kiosk's hashed token and PIN cannot be read ({error})",
            where=str(path),
            remedy="Put it right, or remove it and take a new token and PIN.",
        ) from error


def save(path: Path, kept: Secrets) -> None:
    """Store hashes, for their owner alone to read. Raises OutputRefused."""
    beside = path.with_name(f"{path.name}.new")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        beside.unlink(missing_ok=True)
        with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as out:
            json.dump({"token": kept.token, "pin": kept.pin}, out)
        beside.replace(path)
    except OSError as error:
        raise OutputRefused(
            f"The kiosk's hashed token and PIN cannot be stored ({error.strerror or error})",
            where=str(path),
            remedy="Name a file that you may write to.",
        ) from error


class Checked:
    """Compares secrets with a stored hash; one that was right is known again at once.

    The slow hash would otherwise be paid for with each request. What is kept of a right
    secret is its HMAC under a key that dies with the process.
    """

    def __init__(self, stored: str) -> None:
        self._stored = stored
        self._key = os.urandom(32)
        self._known = b""

    def is_known(self, secret: str) -> bool:
        """Whether the secret was found right before; quick."""
        return bool(self._known) and hmac.compare_digest(self._known, self._mac(secret))

    def is_right(self, secret: str) -> bool:
        """Whether the secret is right; slow for one that is not known."""
        if self.is_known(secret):
            return True
        if not is_right(secret, self._stored):
            return False
        self._known = self._mac(secret)
        return True

    def _mac(self, secret: str) -> bytes:
        return hmac.new(self._key, secret.encode("utf-8", "replace"), "sha256").digest()


def _scrypt(secret: str, salt: bytes) -> bytes:
    return hashlib.scrypt(
        secret.encode("utf-8", "replace"),
        salt=salt,
        n=_COST_N,
        r=_COST_R,
        p=_COST_P,
        maxmem=_MEMORY,
        dklen=32,
    )


def _text(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")

"""What a kiosk is started with."""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass

from pairing.desk.for_whom import Asked

LANGUAGES = ("en", "es", "fr")
"""The languages that there are texts for (`texts/*.json`)."""

MEGABYTE = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """How one kiosk service behaves.

    host, port: where it listens. names: further names that it is called by (a reverse proxy's),
    checked against the Host header. desk, operator: what is put into the ledger's entries.
    gs: what the scanner sends in place of the group separator. language: "" for the browser's.
    asked: when the page asks for whom a piece is. asks_kind: whether it asks what a piece is.
    only_notes: what of a returned card is a note here (`judge.fields.SETTABLE_ON_RETURN`).
    idle_s: after this long without a key or a touch the page wipes its numbers.
    is_tls_in_front: cookies are for TLS only.
    json_bytes, photo_bytes: the longest bodies taken. per_s, burst: requests of one client.
    """

    host: str = "127.0.0.1"
    port: int = 8737
    names: tuple[str, ...] = ()
    desk: str = "kiosk"
    operator: str = "kiosk"
    gs: tuple[str, ...] = ()
    language: str = ""
    asked: Asked = Asked.NEVER
    asks_kind: bool = False
    only_notes: tuple[str, ...] = ()
    idle_s: float = 60.0
    is_tls_in_front: bool = False
    json_bytes: int = 32_768
    photo_bytes: int = 25 * MEGABYTE
    per_s: float = 400.0
    burst: float = 800.0

    @property
    def is_loopback(self) -> bool:
        """Whether only this machine can reach it."""
        return is_loopback(self.host)

    @property
    def needs_token(self) -> bool:
        """Whether others may come: by an open address, or through a proxy on this machine."""
        return not self.is_loopback or self.is_tls_in_front or bool(self.names)


def is_loopback(host: str) -> bool:
    """Whether a host name or address means this machine alone."""
    name = host.strip("[]").lower()
    if name == "localhost":
        return True
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return False


def is_address(host: str) -> bool:
    """Whether `host` is an IP address and no name. No name server can point one elsewhere."""
    try:
        ipaddress.ip_address(host.strip("[]"))
    except ValueError:
        return False
    return True

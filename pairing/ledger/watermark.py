"""The watermark: a small file beside the ledger that says how far it has come.

A ledger that was cut off at its end, or put back to an older copy, fits together perfectly;
only something outside it can tell. The file is written after each commit, without waiting for
the disk: it may lag behind after a power cut, it never runs ahead.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

_DIGITS = 20
_BYTES = _DIGITS + 1 + 64 + 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """The ledger had `size` entries, and the last one's leaf hash was `leaf`."""

    size: int
    leaf: bytes


class Watermark:
    """Writes the file. One for each ledger and process."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._handle: int | None = None

    def put(self, size: int, leaf: bytes) -> None:
        """Say that the ledger has come this far."""
        if self._handle is None:
            self.path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            self._handle = os.open(self.path, os.O_WRONLY | os.O_CREAT, 0o600)
        line = f"{size:0{_DIGITS}d} {leaf.hex()}\n".encode()
        if hasattr(os, "pwrite"):
            os.pwrite(self._handle, line, 0)
            return
        os.lseek(self._handle, 0, os.SEEK_SET)
        os.write(self._handle, line)

    def close(self) -> None:
        """Let go of the file."""
        if self._handle is not None:
            os.close(self._handle)
            self._handle = None


def read(path: Path) -> Mark | None:
    """What the file says; None where there is none, or where it is unreadable."""
    try:
        data = path.read_bytes()
        if len(data) != _BYTES:
            return None
        return Mark(size=int(data[:_DIGITS]), leaf=bytes.fromhex(data[_DIGITS + 1 : -1].decode()))
    except (OSError, ValueError):
        return None

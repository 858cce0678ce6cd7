"""Work at the counter: scans and keyed entries put together into pieces."""

from __future__ import annotations

from pairing.desk.tray import Tray, TrayPiece

__all__ = ["Tray", "TrayPiece"]

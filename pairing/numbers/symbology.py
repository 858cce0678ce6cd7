"""Symbology identifiers (`]cm`, ISO/IEC 15424): what kind of bars a text came from."""

from __future__ import annotations

import re

_NAMES = {
    "]C0": "Code 128",
    "]C1": "GS1-128",
    "]C2": "Code 128 (AIM application)",
    "]C4": "ISBT 128",
    "]E0": "EAN/UPC",
    "]E1": "EAN/UPC add-on",
    "]E2": "EAN/UPC add-on",
    "]E3": "EAN/UPC with add-on",
    "]E4": "EAN-8",
}
_FLAGS = {
    "A": "Code 39",
    "C": "Code 128",
    "E": "EAN/UPC",
    "F": "Codabar",
    "G": "Code 93",
    "I": "Interleaved 2 of 5",
    "L": "PDF417",
    "Q": "QR Code",
    "U": "MaxiCode",
    "d": "Data Matrix",
    "e": "GS1 DataBar",
    "z": "Aztec Code",
}
"""Tables of makers' manuals (NCR, Datalogic KA-01477, Opticon) after ISO/IEC 15424;
F, G, L, U and z from memory."""

_PREFIX = re.compile(r"\][A-Za-z][0-9A-Za-z]")

RETAIL = "E"
"""EAN and UPC hold at most 14 digits: whatever they say is not an article or card number."""

EXPECTED = "Cd"
"""Code 128, and Data Matrix for GS1 element strings. Numbers from other bars are doubted:
Interleaved 2 of 5, say, passes when only a part is read (from memory)."""


def name(aim: str) -> str:
    """The symbology that an identifier means, or "" where it is unknown."""
    return _NAMES.get(aim) or _FLAGS.get(aim[1:2], "")


def prefix(text: str) -> str:
    """The identifier that `text` begins with, or ""."""
    found = _PREFIX.match(text)
    return found.group() if found and found.group()[1] in _FLAGS else ""

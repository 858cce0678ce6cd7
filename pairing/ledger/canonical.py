"""Entries as bytes: JSON in the canonical form of RFC 8785. These bytes are what is hashed,
and they are stored as they were hashed."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import rfc8785

from pairing.errors import EntryRefused, LedgerDamaged
from pairing.ledger.entries import Entry
from pairing.ledger.forms import from_members, members

_ENCODER = json.JSONEncoder(
    ensure_ascii=False, check_circular=False, allow_nan=False, sort_keys=True, separators=(",", ":")
)
"""An entry's members have ASCII names and no numbers but small whole ones. For those the
standard encoder gives the bytes of RFC 8785 (the tests hold it against the library that knows
all of it) in a tenth of the time, which is half of what recording a piece costs."""


def canonical(value: Mapping[str, Any]) -> bytes:
    """The canonical bytes of any JSON object. Raises EntryRefused for what JSON cannot say."""
    try:
        return rfc8785.dumps(dict(value))
    except (rfc8785.CanonicalizationError, UnicodeError) as problem:
        raise _unsayable(value, problem) from problem


def encode(entry: Entry) -> bytes:
    """The canonical bytes of an entry."""
    value = members(entry)
    try:
        return _ENCODER.encode(value).encode()
    except ValueError as problem:
        raise _unsayable(value, problem) from problem


def _unsayable(value: Mapping[str, Any], problem: Exception) -> EntryRefused:
    return EntryRefused(
        f"This cannot be written as canonical JSON ({problem})",
        where=str(value)[:200],
        remedy="Report this: texts should have been cleaned before they came here.",
    )


def decode(data: bytes, *, where: object) -> Entry:
    """The entry that the bytes are. Raises LedgerDamaged, naming `where`, if they are none."""
    try:
        return from_members(json.loads(data))
    except (KeyError, ValueError, TypeError, AttributeError) as problem:
        raise LedgerDamaged(
            f"This is no entry of a ledger ({type(problem).__name__}: {problem})",
            where=where,
            remedy="Verify the ledger, and go back to the last backup that verifies.",
        ) from problem


def clean(text: str) -> str:
    """The text with what no database and no JSON can hold (NUL, lone surrogates) replaced
    by U+FFFD."""
    if text.isascii() and "\0" not in text:
        return text
    return "".join("\ufffd" if ch == "\0" or "\ud800" <= ch <= "\udfff" else ch for ch in text)

"""JSON in the canonical form of RFC 8785, and texts that it can hold. Entries have an encoder of
their own (`entries`); this one takes any object."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec
import rfc8785

from pairing.errors import EntryRefused


def canonical(value: Mapping[str, Any]) -> bytes:
    """The canonical bytes of any JSON object. Raises EntryRefused for what JSON cannot say."""
    try:
        return rfc8785.dumps(dict(value))
    except (rfc8785.CanonicalizationError, UnicodeError) as problem:
        raise EntryRefused(
            f"This cannot be written as canonical JSON ({problem})",
            where=str(value)[:200],
            remedy="Report this: texts should have been cleaned before they came here.",
        ) from problem


def clean(text: str) -> str:
    """The text with what no database and no JSON can hold (NUL, lone surrogates) replaced
    by U+FFFD."""
    if text.isascii() and "\0" not in text:
        return text
    return "".join("\ufffd" if ch == "\0" or "\ud800" <= ch <= "\udfff" else ch for ch in text)


def names_in(content: bytes) -> dict[str, str]:
    """The names and addresses that stored bytes are."""
    return msgspec.json.decode(content, type=dict[str, str])

"""Whether the columns that an entry is found by say what its bytes say. Pure.

Parsing a million entries takes seven times as long as hashing them. Canonical JSON (RFC 8785)
makes that unnecessary: members are sorted, nothing is optional, and a quotation mark inside a
text is escaped, so `"kind":"paired",` can only be the member itself. Whatever does not match
at a glance is parsed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pairing.errors import LedgerDamaged
from pairing.ledger.canonical import decode
from pairing.ledger.recording import columns

NAMES = ("sequence", "at", "kind", "article", "card", "elsewhere", "refers", "key")
"""The columns that repeat members, in the order that `agrees` takes them."""


def agrees(row: Sequence[Any], data: bytes) -> bool:
    """Whether a row that begins with the columns of `NAMES` says what `data` says."""
    return _matches(row, data) or _is_equal(row, data)


def _matches(row: Sequence[Any], data: bytes) -> bool:
    sequence, at, kind, article, card, elsewhere, refers, key = row[:8]
    begin = f'{{"article":"{article}","at":"{at}",' if article else f'{{"at":"{at}",'
    if card:
        begin += f'"card":"{card}",'
    elif b'"card":' in data:
        return False
    end = f'"written":"{elsewhere or article}"}}'
    return (
        data.startswith(begin.encode())
        and f'"kind":"{kind}",'.encode() in data
        and (f'"refers":{refers},'.encode() in data if refers else b'"refers":' not in data)
        and (f'"key":"{key}",'.encode() in data if key else b'"key":' not in data)
        and f'"sequence":{sequence},'.encode() in data
        and (data.endswith(end.encode()) or (not elsewhere and data.endswith(b'"version":1}')))
    )


def _is_equal(row: Sequence[Any], data: bytes) -> bool:
    try:
        found = columns(decode(data, where="entry"))
    except LedgerDamaged:
        return False
    return tuple(row[:8]) == tuple(found[name] for name in NAMES)

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

_QUOTES = 12
"""Quotation marks around three names and three values."""


def agrees(row: Sequence[Any], text: str) -> bool:
    """Whether a row that begins with the columns of `NAMES` says what the entry `text` says."""
    return _is_usual(row, text) or _matches(row, text) or _is_equal(row, text)


def _is_usual(row: Sequence[Any], text: str) -> bool:
    """Whether it is an accepted piece with label and card, as nearly all are, and agrees: its
    first three members and its last four stand next to each other."""
    sequence, at, kind, article, card, elsewhere, refers, key, *_ = row
    if kind != "paired" or elsewhere is not None or refers is not None:
        return False
    begin = f'{{"article":"{article}","at":"{at}","card":"{card}",'
    end = f'],"sequence":{sequence},"verdict":"agrees","version":1,"written":"{article}"}}'
    if not text.startswith(begin) or not text.endswith(end):
        return False
    if begin.count('"') != _QUOTES or "\\" in begin:
        return False  # could reach over into the next member
    if key is None:
        return '],"kind":"paired",' in text
    return '"' not in key and "\\" not in key and f',"key":"{key}","kind":"paired",' in text


def _matches(row: Sequence[Any], text: str) -> bool:
    sequence, at, kind, article, card, elsewhere, refers, key, *_ = row
    together = f"{at}{kind}{article}{card}{elsewhere}{key}"
    if '"' in together or "\\" in together:
        return False  # could reach over into the next member
    begin = f'{{"article":"{article}","at":"{at}",' if article is not None else f'{{"at":"{at}",'
    if card is not None:
        begin += f'"card":"{card}",'
    elif '"card":' in text:
        return False
    return (
        text.startswith(begin)
        and _has_kind(text, kind, key)
        and _has_sequence(text, sequence, refers)
        and _has_written(text, article, elsewhere)
    )


def _has_written(text: str, article: str | None, elsewhere: str | None) -> bool:
    """`written` is the last member. The column repeats it where it is not the article."""
    if elsewhere is not None:
        return elsewhere != article and text.endswith(f'"written":"{elsewhere}"}}')
    if article is not None and text.endswith(f'"written":"{article}"}}'):
        return True
    return text.endswith('"version":1}')


def _has_kind(text: str, kind: str, key: str | None) -> bool:
    """`key` sorts right before `kind`; where an array stands there, there is no key."""
    if key is not None:
        return f',"key":"{key}","kind":"{kind}",' in text
    return f'],"kind":"{kind}",' in text or (f',"kind":"{kind}",' in text and '"key":' not in text)


def _has_sequence(text: str, sequence: int, refers: int | None) -> bool:
    """`refers` sorts before `sequence`, with nothing but `remark` between; likewise."""
    if refers is not None:
        return f',"refers":{refers},' in text and f'"sequence":{sequence},' in text
    # From the end: this stands near it.
    return text.rfind(f'],"sequence":{sequence},') >= 0 or (
        f',"sequence":{sequence},' in text and '"refers":' not in text
    )


def _is_equal(row: Sequence[Any], text: str) -> bool:
    try:
        found = columns(decode(text.encode(), where="entry"))
    except LedgerDamaged:
        return False
    return tuple(row[:8]) == tuple(found[name] for name in NAMES)

"""What a line at the counter is: a scan, or one of the four words that no scan can be.

A number never begins with these words, so a typed word cannot be taken for a scan.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum


class EntryKind(StrEnum):
    """SCAN: scanner input. BOX: what a person reads in the box, keyed. STRIP: the barcode of
    the strip in the box, in this line or, if it is empty, in the next. NEXT: the piece ends.
    AGAIN: what was read on this piece is forgotten."""

    SCAN = "scan"
    BOX = "box"
    STRIP = "strip"
    NEXT = "next"
    AGAIN = "again"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line. text: the scan or the number, without the word; may be empty."""

    kind: EntryKind
    text: str


WORDS = tuple(kind.value for kind in EntryKind if kind is not EntryKind.SCAN)

_WORD = re.compile(rf"\s*({'|'.join(WORDS)})\b\s*[:=]?\s*(.*)", re.IGNORECASE | re.DOTALL)


def parse_entry(line: str) -> Entry:
    """The entry that a line is; a blank line ends the piece. Never raises."""
    if not line.strip():
        return Entry(kind=EntryKind.NEXT, text="")
    word = _WORD.fullmatch(line)
    if word is None:
        return Entry(kind=EntryKind.SCAN, text=line)
    return Entry(kind=EntryKind(word[1].lower()), text=word[2].strip("\r\n"))

"""The words of the counter, and what a line there is: a word, or a scan. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum


class Arrived(StrEnum):
    """How a line came: so fast that a scanner sent it (or it was pasted), so slowly that a
    person typed it, begun by a person and gone on with by a scanner, or through a pipe,
    where nothing tells."""

    SCANNED = "scanned"
    TYPED = "typed"
    MIXED = "mixed"
    PIPED = "piped"


class Word(StrEnum):
    """What may be typed. On the piece in hand:

    BOX: what a person reads in the box. STRIP: the barcode of the strip in the box, in this
    line or, if it is empty, in the next. LABEL, CARD: a number keyed because its bars cannot
    be scanned. NEXT: the piece ends here. AGAIN: what was read on it is forgotten.

    On the desk: VOID, CORRECT: an entry that was recorded. RETRY: what was not recorded is
    offered again. HANDOVER: another operator. COUNT, NOTE, HELP, END.
    """

    BOX = "box"
    STRIP = "strip"
    LABEL = "label"
    CARD = "card"
    NEXT = "next"
    AGAIN = "again"
    VOID = "void"
    CORRECT = "correct"
    RETRY = "retry"
    HANDOVER = "handover"
    COUNT = "count"
    NOTE = "note"
    HELP = "help"
    END = "end"


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line. word: None where it is no word of the counter. text: what follows the word,
    or the whole line."""

    word: Word | None
    text: str


BOX_KEY = "/"
"""Stands for BOX at the beginning of a line: a key of the numeric keypad on every layout."""

_WORD = re.compile(
    rf"\s*(?:({'|'.join(Word)})(?!\w)\s*[:=]?|{BOX_KEY})\s*(.*)", re.IGNORECASE | re.DOTALL
)


def parse_line(line: str, arrived: Arrived = Arrived.PIPED) -> Line:
    """What a line is. What a scanner sent is never a word, whatever its bars say; no article
    or card number begins with a word. Never raises."""
    word = None if arrived is Arrived.SCANNED else _WORD.fullmatch(line)
    if word is None:
        return Line(word=None, text=line)
    return Line(word=Word((word[1] or Word.BOX).lower()), text=word[2].strip("\r\n"))

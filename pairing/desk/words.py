"""The one table of words that may be typed at a desk, and what a line is: a word, or a scan.

Pure. `counter`, `check` and `returned` take the same words with the same meaning; the table says
which of them each word is for.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import get_close_matches
from enum import StrEnum


class Arrived(StrEnum):
    """How a line came: so fast that a scanner sent it (or it was pasted), so slowly that a
    person typed it, begun by a person and gone on with by a scanner, as evenly as no person
    types, or through a pipe, where nothing tells."""

    SCANNED = "scanned"
    TYPED = "typed"
    MIXED = "mixed"
    EVEN = "even"
    PIPED = "piped"


class Work(StrEnum):
    """What is done at a desk: pieces are prepared and recorded, pieces are checked without a
    record, cards come back."""

    COUNTER = "counter"
    CHECK = "check"
    RETURNED = "returned"


class Word(StrEnum):
    """What may be typed; `TABLE` says what each word does."""

    BOX = "box"
    STRIP = "strip"
    LABEL = "label"
    CARD = "card"
    CONFIRM = "confirm"
    UNLISTED = "unlisted"
    NONUMBER = "nonumber"
    SIGNED = "signed"
    UNSIGNED = "unsigned"
    NAME = "name"
    NEXT = "next"
    AGAIN = "again"
    ASIDE = "aside"
    SETTLED = "settled"
    VOID = "void"
    TO = "to"
    ADDRESS = "address"
    REF = "ref"
    SERVICE = "service"
    FEE = "fee"
    PIECE = "piece"
    CORRECT = "correct"
    RETRY = "retry"
    HANDOVER = "handover"
    COUNT = "count"
    NOTE = "note"
    YES = "yes"
    HELP = "help"
    END = "end"


@dataclass(frozen=True, slots=True, kw_only=True)
class Usage:
    """A word, what follows it, what it does (a few words for the help), and where it is used."""

    word: Word
    follows: str
    does: str
    used_in: tuple[Work, ...]


_ALL = (Work.COUNTER, Work.CHECK, Work.RETURNED)
_PIECES = (Work.COUNTER, Work.CHECK)
_RECORD = (Work.COUNTER,)
_CARDS = (Work.RETURNED,)
_RECORDED = (Work.COUNTER, Work.RETURNED)

TABLE = (
    Usage(word=Word.BOX, follows="NUMBER", used_in=_ALL,
          does="what you read in the card's box; / may be typed for the word"),
    Usage(word=Word.STRIP, follows="", used_in=_ALL,
          does="the next scan is the strip in the box: type it, press Enter, then scan"),
    Usage(word=Word.LABEL, follows="NUMBER", used_in=_PIECES,
          does="the label's number, where its bars cannot be scanned"),
    Usage(word=Word.CARD, follows="NUMBER", used_in=_ALL,
          does="the card's own number, where its bars cannot be scanned"),
    Usage(word=Word.CONFIRM, follows="WHY", used_in=_PIECES,
          does="you vouch for a label that was keyed, and say why it was not scanned"),
    Usage(word=Word.UNLISTED, follows="", used_in=_RECORD,
          does="this piece is on no list that was loaded, and that is right (a walk-in)"),
    Usage(word=Word.NONUMBER, follows="", used_in=_PIECES,
          does="this card has no number of its own"),
    Usage(word=Word.SIGNED, follows="[DATE]", used_in=_CARDS,
          does="it is signed, with the date beside it: 2026-11-25, today or yesterday"),
    Usage(word=Word.UNSIGNED, follows="", used_in=_CARDS,
          does="the card is not signed"),
    Usage(word=Word.NAME, follows="TEXT", used_in=_CARDS,
          does="who signed"),
    Usage(word=Word.NEXT, follows="", used_in=_ALL,
          does="this piece or card ends here"),
    Usage(word=Word.AGAIN, follows="", used_in=_ALL,
          does="start this piece or card over"),
    Usage(word=Word.ASIDE, follows="", used_in=_PIECES,
          does="the stopped piece is set aside; go on with another"),
    Usage(word=Word.TO, follows="NAME", used_in=_RECORD,
          does="whom the piece is for; address, service and fee too; all can be erased"),
    Usage(word=Word.ADDRESS, follows="TEXT", used_in=_RECORD,
          does="the addressee's address"),
    Usage(word=Word.REF, follows="[TEXT]", used_in=_RECORD,
          does="your own reference (case, account, invoice); alone: the next scan is it"),
    Usage(word=Word.SERVICE, follows="TEXT", used_in=_RECORD,
          does="the services that you declare, such as return receipt"),
    Usage(word=Word.FEE, follows="8.65", used_in=_RECORD,
          does="postage and fees that you declare"),
    Usage(word=Word.PIECE, follows="KIND", used_in=_RECORD,
          does="letter, flat or parcel, or how thick it is: 1/4, 5 mm"),
    Usage(word=Word.CORRECT, follows="[12]", used_in=_RECORD,
          does="entry 12, or the last, came from a slip: read that piece from the start"),
    Usage(word=Word.VOID, follows="12 WHY", used_in=_RECORDED,
          does="entry 12 does not count; its label's number may stand for 12"),
    Usage(word=Word.SETTLED, follows="12 HOW", used_in=_RECORD,
          does="what became of a piece that entry 12 stopped and nobody sealed"),
    Usage(word=Word.RETRY, follows="", used_in=_RECORD,
          does="offer again what was not recorded"),
    Usage(word=Word.HANDOVER, follows="NAME", used_in=_RECORD,
          does="somebody else works here from now on"),
    Usage(word=Word.COUNT, follows="", used_in=_RECORD,
          does="what was done today"),
    Usage(word=Word.NOTE, follows="TEXT", used_in=_RECORD,
          does="put something on record"),
    Usage(word=Word.YES, follows="", used_in=_RECORDED,
          does="do what was just asked about; anything else leaves it undone"),
    Usage(word=Word.HELP, follows="", used_in=_ALL,
          does="list these words"),
    Usage(word=Word.END, follows="", used_in=_ALL,
          does="stop working (Ctrl+D stops too, and asks nothing)"),
)  # fmt: skip
"""Every word, in the order in which the help lists them."""

_USED_IN = {one.word: one.used_in for one in TABLE}


def is_used_in(word: Word, work: Work) -> bool:
    """Whether the word has a meaning in that work."""
    return work in _USED_IN[word]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line. word: None where it is none. text: what follows the word, or the whole line."""

    word: Word | None
    text: str


BOX_KEY = "/"
"""Means BOX at the beginning of a line: a key of the numeric keypad on every layout."""

_WORD = re.compile(
    rf"\s*(?:({'|'.join(Word)})(?!\w)\s*[:=]?|{BOX_KEY})\s*(.*)", re.IGNORECASE | re.DOTALL
)


def parse_line(line: str, arrived: Arrived = Arrived.PIPED) -> Line:
    """What a line is. What a scanner sent is never a word, whatever its bars say; no article
    or card number begins with a word. Through a pipe a blank line is NEXT. Never raises."""
    if arrived is Arrived.PIPED and not line.strip():
        return Line(word=Word.NEXT, text="")
    word = None if arrived is Arrived.SCANNED else _WORD.fullmatch(line)
    if word is None:
        return Line(word=None, text=line)
    return Line(word=Word((word[1] or Word.BOX).lower()), text=word[2].strip("\r\n"))


def nearest_word(line: str) -> Word | None:
    """The word that a line probably begins with though it is misspelled, or None. Never raises."""
    first = line.split(maxsplit=1)[:1]
    near = get_close_matches(first[0].lower(), list(Word), n=1, cutoff=0.7) if first else []
    return Word(near[0]) if near else None

"""What is said of a piece beside its numbers, on its way to the ledger: asked, put right, added."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from pairing.desk import commands, piece_kind
from pairing.desk.for_whom import Asked, Field
from pairing.desk.remarks import Remark, Say
from pairing.desk.words import Word
from pairing.ledger import Draft, Entry, Ledger

FIELDS = {
    Word.TO: Field.NAME,
    Word.ADDRESS: Field.ADDRESS,
    Word.REF: Field.REFERENCE,
    Word.SERVICE: Field.SERVICE,
    Word.FEE: Field.FEE,
    Word.PIECE: Field.PIECE,
}
"""The words that say whom a piece is for, why it is sent, and what it is."""


def questions(known: Mapping[str, str], asked: Asked, *, asks_kind: bool) -> Iterator[Remark]:
    """What is asked when a label comes of which so much is known."""
    if asked is Asked.BEFORE and not known.keys() - {Field.PIECE}:
        yield Remark(code=Say.FOR_WHOM)
    if asks_kind and Field.PIECE not in known:
        yield Remark(code=Say.PIECE_KIND)


def put_right(said: Mapping[str, str]) -> dict[str, str] | Remark:
    """The same with the piece's kind as one of three words, or what is wrong with it."""
    typed = said.get(Field.PIECE)
    if not typed:
        return dict(said)
    kind = piece_kind.kind_of(typed)
    if kind is None:
        return Remark(code=Say.PIECE_KIND_HOW)
    return {**said, Field.PIECE.value: kind.value}


def addition(entry: Entry, about: Mapping[str, str]) -> Draft:
    """The note that adds it to a recorded piece."""
    odd = piece_kind.notes(entry.article, about)
    return replace(commands.naming(entry, about), findings=odd)


def remarks_on(added: Draft, text: str = "") -> Iterator[Remark]:
    """What the clerk is told of such a note."""
    yield Remark(code=Say.FOR_WHOM_ADDED, entry=added.refers, text=text)
    for one in added.findings:
        yield Remark(code=Say.PIECE_KIND_ODD, text=f"{one.message} {one.action}")


def is_told(ledger: Ledger, entry: Entry) -> bool:
    """Whether anything but the piece's kind was said of it. Raises LedgerUnusable."""
    if not entry.commitment:
        return False
    about = ledger.about([entry.sequence]).get(entry.sequence, {})
    return bool(about.keys() - {Field.PIECE})

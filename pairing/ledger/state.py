"""What is the case now: entries folded, in their order, into pieces and expectations. Pure.

The rules, for entries in the order of their sequence:

* `paired` is a sealed piece; its sequence names the piece from then on.
* `returned` that refers to a piece that is not void adds a return; the piece is returned.
* `corrected` that refers to a piece that is not void replaces its numbers. Once its card came
  back the ledger takes no other numbers (`findings`): the return was held against the old ones.
* `voided` that refers to an open piece makes it void, for good. A returned piece is not
  voided: its card proves that it went out. Void the return first, if that was the mistake.
* `voided` that refers to a return takes that return back; the piece is open again.
* `voided` that refers to an expectation withdraws it.
* `expected` adds an expectation; it is met while a piece that is not void has its article.
* `stopped` or `note` that refers to a piece that is not void, has its label or its card and
  differs (the piece was read again to correct it) contradicts the piece until it is corrected.
* Every other `stopped` and `note` changes nothing; nor does anything that refers to what is not
  there.

What a piece frees: a void piece holds neither its label's number nor its card's, so the same
label or card can be offered again (a re-do). A correction holds the new numbers and frees
those it replaces. A return frees nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from pairing.ledger.drafts import Draft
from pairing.ledger.entries import Entry, Kind, decode
from pairing.ledger.statements import Fetcher
from pairing.model import Verdict

Fetch = Callable[[int], Iterable[Entry]]
"""The entries that belong to a sequence."""

_ALONE = (Kind.STOPPED, Kind.NOTE, Kind.EXPECTED)
"""Kinds that are recorded whatever is the case."""


class State(StrEnum):
    """The state of a piece, as it is stored and filtered by. Shown, OPEN is "sealed"."""

    OPEN = "open"
    RETURNED = "returned"
    VOID = "void"


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A sealed piece as it is now.

    first: its first entry; its sequence names the piece. article, card: after corrections.
    returns: the returns that count. history: the sequences that changed it, in order.
    contradicted: the entry of a later reading of the same piece that came out different; None
    where there is none, or where a correction came after it.
    """

    first: Entry
    article: str | None
    card: str | None
    state: State = State.OPEN
    returns: tuple[Entry, ...] = ()
    contradicted: Entry | None = None
    history: tuple[int, ...] = ()

    @property
    def sequence(self) -> int:
        """The sequence of its first entry."""
        return self.first.sequence

    @property
    def name(self) -> str:
        """What people call it."""
        return self.first.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Expectation:
    """A pair that another system printed, as it is now."""

    entry: Entry
    is_withdrawn: bool = False


@dataclass(slots=True)
class Standing:
    """Pieces and expectations by the sequence of their first entry, and what was stopped."""

    pieces: dict[int, Piece] = field(default_factory=dict)
    expected: dict[int, Expectation] = field(default_factory=dict)
    stopped: list[Entry] = field(default_factory=list)
    _of_return: dict[int, int] = field(default_factory=dict)

    def take(self, entry: Entry) -> None:
        """Fold one more entry in."""
        match entry.kind:
            case Kind.PAIRED:
                self.pieces[entry.sequence] = Piece(
                    first=entry,
                    article=entry.article,
                    card=entry.card,
                    history=(entry.sequence,),
                )
            case Kind.EXPECTED:
                self.expected[entry.sequence] = Expectation(entry=entry)
            case Kind.RETURNED:
                self._return(entry)
            case Kind.CORRECTED:
                self._correct(entry)
            case Kind.VOIDED:
                self._void(entry)
            case Kind.STOPPED:
                self.stopped.append(entry)
                self._contradict(entry)
            case Kind.NOTE:
                self._contradict(entry)

    def holders(self, *, article: str | None = None, card: str | None = None) -> list[Piece]:
        """The pieces, oldest first, that hold this article or card number now. Void ones
        hold nothing."""
        return [
            piece
            for _, piece in sorted(self.pieces.items())
            if piece.state is not State.VOID
            and (
                (article is not None and piece.article == article)
                or (card is not None and piece.card == card)
            )
        ]

    def is_met(self, expectation: Expectation) -> bool:
        """Whether a piece with the expected article was sealed and not voided."""
        return bool(self.holders(article=expectation.entry.article))

    def missing(self) -> list[Expectation]:
        """Expectations that were not withdrawn and are not met."""
        held = {one.article for one in self.pieces.values() if one.state is not State.VOID}
        return [
            one
            for _, one in sorted(self.expected.items())
            if not one.is_withdrawn and one.entry.article not in held
        ]

    def target(self, sequence: int | None) -> Piece | Expectation | Entry | None:
        """What an entry that refers to `sequence` is about: a piece, an expectation, a
        return that counts, or nothing that can be changed."""
        if sequence is None:
            return None
        if sequence in self._of_return:
            piece = self.pieces[self._of_return[sequence]]
            return next(one for one in piece.returns if one.sequence == sequence)
        return self.pieces.get(sequence) or self.expected.get(sequence)

    def _return(self, entry: Entry) -> None:
        piece = self.pieces.get(entry.refers or 0)
        if piece is None or piece.state is State.VOID:
            return
        self._of_return[entry.sequence] = piece.sequence
        self._put(replace(piece, returns=(*piece.returns, entry), state=State.RETURNED), entry)

    def _correct(self, entry: Entry) -> None:
        piece = self.pieces.get(entry.refers or 0)
        if piece is not None and piece.state is not State.VOID:
            found = replace(piece, article=entry.article, card=entry.card, contradicted=None)
            self._put(found, entry)

    def _contradict(self, entry: Entry) -> None:
        piece = self.pieces.get(entry.refers or 0)
        if piece is None or piece.state is State.VOID or entry.verdict is not Verdict.DIFFERS:
            return
        if entry.article == piece.article or (entry.card and entry.card == piece.card):
            self._put(replace(piece, contradicted=entry), entry)

    def _void(self, entry: Entry) -> None:
        match self.target(entry.refers):
            case Piece() as piece if piece.state is State.OPEN:
                self._put(replace(piece, state=State.VOID), entry)
            case Expectation() as expectation:
                self.expected[expectation.entry.sequence] = replace(expectation, is_withdrawn=True)
            case Entry() as taken_back:
                piece = self.pieces[self._of_return.pop(taken_back.sequence)]
                left = tuple(one for one in piece.returns if one is not taken_back)
                state = State.RETURNED if left else State.OPEN
                self._put(replace(piece, returns=left, state=state), entry)

    def _put(self, piece: Piece, entry: Entry) -> None:
        self.pieces[piece.sequence] = replace(piece, history=(*piece.history, entry.sequence))


def fold(entries: Iterable[Entry]) -> Standing:
    """The standing after these entries, which come in the order of their sequence."""
    standing = Standing()
    for entry in entries:
        standing.take(entry)
    return standing


def gather(seeds: Iterable[Entry], *, one: Fetch, referring: Fetch) -> list[Entry]:
    """The seeds and whatever is connected with them, in the order of sequence.

    one: the entry with a sequence (none or one). referring: those that refer to it.
    """
    held = {entry.sequence: entry for entry in seeds}
    todo = list(held.values())
    while todo:
        entry = todo.pop()
        nearby = list(referring(entry.sequence))
        if entry.refers is not None and entry.refers not in held:
            nearby += one(entry.refers)
        for other in nearby:
            if other.sequence not in held:
                held[other.sequence] = other
                todo.append(other)
    return [held[sequence] for sequence in sorted(held)]


def standing_for(draft: Draft, fetcher: Fetcher, where: str) -> Standing:
    """The pieces and expectations that the draft may meet. Its cost does not grow with the
    ledger: every step goes through an index."""
    if draft.kind in _ALONE:
        return Standing()
    statements = fetcher.statements
    article = draft.article
    if draft.kind is Kind.RETURNED and draft.card is None:
        article = draft.article or draft.written
    rows = fetcher.rows(statements.touching, {"article": article, "card": draft.card})
    if not rows and draft.refers is None:
        return Standing()
    seeds = _decoded(rows, where)
    if draft.refers is not None:
        seeds += _decoded(fetcher.rows(statements.one, {"sequence": draft.refers}), where)
    return standing_around(seeds, fetcher, where)


def standing_around(seeds: Iterable[Entry], fetcher: Fetcher, where: str) -> Standing:
    """What is the case about these entries."""
    statements = fetcher.statements

    def one(sequence: int) -> list[Entry]:
        return _decoded(fetcher.rows(statements.one, {"sequence": sequence}), where)

    def referring(sequence: int) -> list[Entry]:
        return _decoded(fetcher.rows(statements.referring, {"refers": sequence}), where)

    return fold(gather(seeds, one=one, referring=referring))


def _decoded(found: Iterable[tuple[Any, ...]], where: str) -> list[Entry]:
    return [decode(data, where=f"{where}, entry {sequence}") for sequence, data in found]

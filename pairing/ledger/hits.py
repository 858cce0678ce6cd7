"""What a search gives: pieces as they are now, stops, and pairs that are still expected; and what
is declared of a piece before it is recorded."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import islice

from pairing.ledger import erasable, find_index, grams
from pairing.ledger.database import Database
from pairing.ledger.entries import Entry, Kind
from pairing.ledger.queries import story, together_with
from pairing.ledger.ruling import STOPS_FOR
from pairing.ledger.state import Piece, Standing, fold

_AT_ONCE = 25
"""Candidates looked at together: about what a screen shows."""

EXPECTED = "expected"
STOPPED = "stopped"
"""The state of a hit that is not a sealed piece (`Hit.state`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """One thing found.

    piece: a sealed piece as it is now; None for a stop or a pair that is still expected,
    which `entry` then is (for a piece: its first entry). about: for whom and why, as far as it
    is kept; with "signed by" where a card that came back has it.
    """

    entry: Entry
    piece: Piece | None
    about: Mapping[str, str]

    @property
    def state(self) -> str:
        """open, returned, void, stopped or expected."""
        if self.piece is not None:
            return self.piece.state.value
        return EXPECTED if self.entry.kind is Kind.EXPECTED else STOPPED

    @property
    def article(self) -> str | None:
        """The article's number as it is now."""
        return self.piece.article if self.piece else self.entry.article

    @property
    def card(self) -> str | None:
        """The card's number as it is now."""
        return self.piece.card if self.piece else self.entry.card


def find(
    database: Database, text: str, *, progress: find_index.Progress | None = None
) -> Iterator[Hit]:
    """Where the text was found, the newest first, each once: pieces in any state, stops whose
    article was not sealed, pairs that are expected and did not come. Nothing for a text of
    single characters. Raises LedgerUnusable."""
    find_index.bring_up_to_date(database, progress)
    for sought in grams.sought(text):
        if sought.is_too_short:
            continue
        hits = _hits(database, sought)
        first = next(hits, None)
        if first is not None:
            yield first
            yield from hits
            return


def declared(
    database: Database, *, article: str | None, card: str | None, clock: Callable[[], datetime]
) -> dict[str, str]:
    """What the lists that expect this article say of it, and what was said when this very label
    and card were stopped within a day. Raises LedgerUnusable."""
    if article is None:
        return {}
    known = story(database, article)
    listed = [
        one.entry.sequence
        for one in known.expected
        if not one.is_withdrawn and one.entry.article == article
    ]
    same = (article, card)
    stops = [one for one in known.entries if one.kind is Kind.STOPPED]
    stops = [one for one in stops if (one.article, one.card) == same]
    stopped = [one.sequence for one in stops[-1:] if clock() - one.when < STOPS_FOR]
    about = erasable.of_pieces(database, [*listed[-1:], *stopped[-1:]])
    return {**about.get((listed or [0])[-1], {}), **about.get((stopped or [0])[-1], {})}


def _hits(database: Database, sought: grams.Sought) -> Iterator[Hit]:
    given: set[int | str] = set()
    candidates = find_index.candidates(database, sought)
    while chunk := dict(islice(candidates, _AT_ONCE)):
        found = together_with(database, chunk)
        standing = fold(found)
        entries = {one.sequence: one for one in found}
        pieces = {
            sequence: piece for piece in standing.pieces.values() for sequence in piece.history
        }
        new: dict[int, tuple[Entry, Piece | None]] = {}
        for sequence in chunk:
            entry, piece = _subject(entries[sequence], entries, pieces, standing)
            if entry is not None and entry.sequence not in given:
                new[entry.sequence] = (entry, piece)
                given.add(entry.sequence)
        about = erasable.of_pieces(database, _with_returns(new.values()))
        for sequence, (entry, piece) in new.items():
            said = dict(about.get(sequence, {}))
            for one in piece.returns if piece else ():
                said.update(about.get(one.sequence, {}))
            if piece is not None or not _is_settled(database, entry, given):
                yield Hit(entry=entry, piece=piece, about=said)


def _with_returns(found: Iterable[tuple[Entry, Piece | None]]) -> list[int]:
    sequences = []
    for entry, piece in found:
        sequences.append(entry.sequence)
        sequences += [one.sequence for one in piece.returns] if piece else []
    return sequences


def _subject(
    entry: Entry, entries: Mapping[int, Entry], pieces: Mapping[int, Piece], standing: Standing
) -> tuple[Entry | None, Piece | None]:
    """What an entry is about: a piece and its first entry, a stop, or an expected pair."""
    piece = pieces.get(entry.sequence) or pieces.get(entry.refers or 0)
    if piece is not None:
        return piece.first, piece
    if entry.kind in (Kind.NOTE, Kind.VOIDED):
        entry = entries.get(entry.refers or 0, entry)
    if entry.kind is Kind.EXPECTED:
        expected = standing.expected.get(entry.sequence)
        return (None if expected is None or expected.is_withdrawn else entry), None
    return (entry if entry.kind is Kind.STOPPED else None), None


def _is_settled(database: Database, entry: Entry, given: set[int | str]) -> bool:
    """Whether its article was sealed, before or after, or was given already: then the piece
    speaks for it."""
    if entry.article is None:
        return False
    if entry.article in given:
        return True
    given.add(entry.article)
    return any(one.article == entry.article for one in story(database, entry.article).pieces)

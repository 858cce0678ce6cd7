"""States of a desk that can be put aside, taken up again and told apart by what they lead to.

Two states are one where nothing that is done to them can ever come out different: what was
read, what is taken and what was stopped are compared, entries that nothing asks for any more are
not. Of two states that differ only in what was looked at, the one in which less was looked at is
tried: whatever holds of it holds of the other.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import Any, cast

import pytest

from pairing.desk import dates, in_hand, lookup
from pairing.desk.answers import Answer
from pairing.desk.counter import Counter
from pairing.desk.strip_timer import TURN_OVER_S
from pairing.desk.words import Arrived
from pairing.findings import Code, Finding, Weight
from pairing.judge import judge
from pairing.ledger import Entry, Ledger, Piece, State
from pairing.model import EarlierUse, ExpectedPair, Judgment, Reading, Side
from tests.desk.records import NOW, Record
from tests.ledger.making import card, label

Looked = frozenset[tuple[int, Side]]
"""Which sides of which piece were looked at since the piece in hand was begun."""


@dataclass(frozen=True)
class Event:
    """What a clerk does. looks_at: the piece and the side that are looked at, if any. takes_s:
    how long it takes."""

    line: str
    arrived: Arrived = Arrived.SCANNED
    looks_at: tuple[int, Side] | None = None
    takes_s: float = 2 * TURN_OVER_S
    is_restart: bool = False
    is_strip: bool = False


@dataclass(frozen=True)
class Kept:
    """A state put aside."""

    passed_s: float
    asked_s: float
    hand: Any
    doubtful: str
    is_stopped: bool
    stopped: Any
    kept_digits: str
    asked: Any
    correcting: Entry | None
    last: Entry | None
    entries: tuple[Entry, ...]
    standing: Any
    looked: Looked


class Place:
    """A session, the time, and what was looked at since the piece in hand was begun."""

    def __init__(self) -> None:
        self.passed_s = 0.0
        self.book = Record()
        self.session: Counter = self._begun()
        self.looked: Looked = frozenset()

    def _begun(self) -> Counter:
        return Counter(
            cast(Ledger, self.book),  # what a counter asks of it, it has
            desk="d",
            operator="o",
            clock=lambda: NOW,
            ticks=lambda: self.passed_s,
            is_live=True,
        )

    def keep(self) -> Kept:
        """The state as it is."""
        session = self.session
        return Kept(
            passed_s=self.passed_s,
            asked_s=session._strip_timer._started_s,
            hand=_copied(session._hand._read),
            doubtful=session._hand._doubtful,
            is_stopped=session._is_stopped,
            stopped=session._stopped,
            kept_digits=session._kept_digits,
            asked=session._question,
            correcting=session._correcting,
            last=session._recorder.last,
            entries=tuple(self.book._entries),
            standing=_copied(self.book._standing),
            looked=self.looked,
        )

    def take_up(self, kept: Kept) -> None:
        """Go on from there."""
        session = self.session
        self.passed_s, session._strip_timer._started_s = kept.passed_s, kept.asked_s
        session._hand._read = _copied(kept.hand)
        session._hand._doubtful = kept.doubtful
        session._is_stopped, session._stopped = kept.is_stopped, kept.stopped
        session._kept_digits, session._question = kept.kept_digits, kept.asked
        session._correcting, session._recorder.last = kept.correcting, kept.last
        self.book._entries = list(kept.entries)
        self.book._standing = _copied(kept.standing)
        self.looked = kept.looked

    def do(self, event: Event) -> Answer | None:
        """Let it happen."""
        self.passed_s += event.takes_s
        if event.is_restart:
            self.session, self.looked = self._begun(), frozenset()
            return None
        if event.looks_at is not None:
            self.looked |= {event.looks_at}
        line = event.line
        if line.startswith("confirm"):
            self.looked |= self._vouched()
        if line == "void":
            line = f"void {self.book.youngest_pair} why"
        return self.session.take(line, arrived=event.arrived)

    def _vouched(self) -> Looked:
        """Whoever vouches for the label in hand looks at it: that is what the word says."""
        mine = self.session.in_hand[0]
        return frozenset(
            (one, Side.LABEL) for one in (0, 1) if mine and label(1 + one) == mine.text
        )

    def told_apart_by(self, ways: Sequence[Mapping[str, str]]) -> list[Hashable]:
        """All that what comes next can depend on, numbers by these names; for each way to call
        them."""
        session, read = self.session, self.session._hand._read
        doubts = {str(one.code) for one in read.found if one.weight is not Weight.NOTE}
        stops = self._stops()
        ready = (
            tuple(sorted(read.sides)),
            tuple(sorted(doubts)),
            any(one.code == Code.LABEL_CONFIRMED for one in read.found),
            read.is_empty,
            read.strip_is_next,
            read.is_strip_refused,
            session.is_stopped,
            self.passed_s - session._strip_timer._started_s < TURN_OVER_S,
        )
        return [
            (
                *ready,
                tuple(sorted({(r.side, r.how, names[r.number.text]) for r in read.readings})),
                tuple(names[number.text] for side in Side if (number := read.number(side))),
                names.get(read.last_line, read.last_line),
                names.get(session._hand._doubtful, session._hand._doubtful),
                names.get(session._kept_digits, session._kept_digits),
                self._asked_by(names),
                self._entry_by(session._correcting, names, stops),
                self._entry_by(session._recorder.last, names, stops),
                tuple(sorted(self._pieces(names))),
                tuple(sorted((names[own], names[of]) for own, (_, of) in stops.items())),
            )
            for names in ways
        ]

    def _asked_by(self, names: Mapping[str, str]) -> Hashable:
        """The question that waits for yes: the end, or the piece that is to be voided."""
        asked = self.session._question
        piece = self.book._standing.pieces.get(getattr(asked, "refers", 0) or 0)
        return _piece_by(piece, names) if piece else asked is not None

    def _stops(self) -> dict[str, tuple[int, str]]:
        """Cards whose last stop counts: the entry, and the label that they were stopped with. A
        label that was stopped is told of, and nothing comes of it."""
        found = {}
        for own in (card(1), card(2)):
            stop = self.session._lookup._stop_today(Side.CARD, own, None)
            if stop is not None and stop.article is not None:
                found[own] = stop.sequence, stop.article
        return found

    def _entry_by(
        self, entry: Entry | None, names: Mapping[str, str], stops: Mapping[str, tuple[int, str]]
    ) -> Hashable:
        """An entry that may be read again: the piece that it sealed as it stands, or the cards
        that it stopped."""
        if entry is None:
            return ()
        piece = self.book._standing.pieces.get(entry.sequence)
        cards = tuple(sorted(names[own] for own, (at, _) in stops.items() if at == entry.sequence))
        return entry.kind, cards, _piece_by(piece, names) if piece else ()

    def _pieces(self, names: Mapping[str, str]) -> set[tuple[str, ...]]:
        """The pieces that hold their numbers."""
        return {
            _piece_by(piece, names)
            for piece in self.book._standing.pieces.values()
            if piece.state is not State.VOID
        }


def _piece_by(piece: Piece, names: Mapping[str, str]) -> tuple[str, ...]:
    numbers = names.get(piece.article or "", ""), names.get(piece.card or "", "")
    return (*numbers, piece.state, str(piece.contradicted is None))


def _copied(one: Any) -> Any:
    """With lists, sets and tables of its own; what is in them is never changed."""
    return replace(one, **{each.name: copy(getattr(one, each.name)) for each in fields(one)})


def quicken(patch: pytest.MonkeyPatch) -> None:
    """Have pure functions remember what they gave; of the same they give the same again."""
    patch.setattr(dates, "span", lru_cache(dates.span))
    for name in ("parse_line", "parse_keyed"):
        patch.setattr(in_hand, name, lru_cache(maxsize=None)(getattr(in_hand, name)))
    remembered = lru_cache(maxsize=200_000)(_judged)
    patch.setattr(
        lookup,
        "judge",
        lambda readings, *, expected=(), earlier=(), others=None, found=(): remembered(
            *map(tuple, (readings, expected, earlier, (others or {}).items(), found))
        ),
    )


def _judged(
    readings: tuple[Reading, ...],
    expected: tuple[ExpectedPair, ...],
    earlier: tuple[EarlierUse, ...],
    others: tuple[tuple[str, str], ...],
    found: tuple[Finding, ...],
) -> Judgment:
    return judge(readings, expected=expected, earlier=earlier, others=dict(others), found=found)

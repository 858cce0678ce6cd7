"""Every order of events at a desk, up to a depth, against what the pieces really are.

A small model of the world knows two pieces: what is on each label and in each box, and which of
them somebody has looked at since the piece in hand was begun. All events are tried in every state
that can be reached; states that differ by the pieces' names alone count once. `python -m
tests.desk.test_every_order DEPTH` goes deeper than the suite does.
"""

from __future__ import annotations

import itertools
import sys
from collections.abc import Iterable
from copy import copy
from dataclasses import dataclass, fields, replace
from datetime import UTC, datetime
from typing import Any

import pytest

from pairing.desk.answers import Advice, Answer, Finished
from pairing.desk.book import RunBook
from pairing.desk.session import Session
from pairing.desk.strip_pace import TURN_OVER_S
from pairing.desk.words import Arrived
from pairing.model import Side
from tests.ledger.making import card, label

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)
DEPTH = 3


@dataclass(frozen=True)
class World:
    """boxes: which piece's label number is written in the box of piece 0 and of piece 1."""

    boxes: tuple[int, int]

    @property
    def is_symmetric(self) -> bool:
        """Whether the two pieces differ by name alone."""
        return self.boxes == (0, 1)


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


def events(world: World) -> list[Event]:
    """All that can be done. A strip's bars are its label's: a label that is scanned again long
    after `strip`, and a strip that is scanned without the word, cannot be told from what they
    pass for, and are not among these."""
    found = []
    for piece in (0, 1):
        written = label(1 + world.boxes[piece])
        found += [
            Event(label(1 + piece), looks_at=(piece, Side.LABEL), takes_s=0.1),
            Event(label(1 + piece)[:9] + label(1 + piece)[10:], takes_s=0.1),  # lost a digit
            Event(card(1 + piece), looks_at=(piece, Side.CARD)),
            Event(card(1 + piece)[:-1]),
            Event(f"box {written}", Arrived.TYPED, (piece, Side.BOX)),
            Event(f"label {label(1 + piece)}", Arrived.TYPED),  # from anywhere but the label
            Event(written, looks_at=(piece, Side.BOX), is_strip=True),
        ]
    words = ("strip", "next", "again", "aside")
    found += [Event(word, Arrived.TYPED) for word in words]
    return [*found, Event("", is_restart=True)]


class Place:
    """A session, the time, and what was looked at since the piece in hand was begun."""

    def __init__(self) -> None:
        self.passed_s = 0.0
        self.book = RunBook(lambda: NOW)
        self.session = self._begun()
        self.looked: frozenset[tuple[int, Side]] = frozenset()

    def _begun(self) -> Session:
        return Session(
            self.book, operator="o", clock=lambda: NOW, ticks=lambda: self.passed_s, is_live=True
        )

    def copy(self) -> Place:
        """The same state, to try one more event on."""
        other = Place.__new__(Place)
        other.passed_s, other.looked = self.passed_s, self.looked
        other.book = RunBook(lambda: NOW)
        other.book._entries = list(self.book._entries)
        standing = self.book._standing
        other.book._standing = replace(
            standing, **{one.name: copy(getattr(standing, one.name)) for one in fields(standing)}
        )
        other.session = other._begun()
        mine, its = self.session, other.session
        read = mine._hand._read
        its._hand._read = replace(
            read, **{one.name: copy(getattr(read, one.name)) for one in fields(read)}
        )
        its._hand._doubtful = mine._hand._doubtful
        its._is_stopped, its._stopped = mine._is_stopped, mine._stopped
        its._kept_digits = mine._kept_digits
        its._strip_pace._asked_for_s = mine._strip_pace._asked_for_s
        return other

    def do(self, event: Event) -> Answer | None:
        """Let it happen."""
        self.passed_s += event.takes_s
        if event.is_restart:
            self.session, self.looked = self._begun(), frozenset()
            return None
        if event.looks_at is not None:
            self.looked |= {event.looks_at}
        return self.session.take(event.line, arrived=event.arrived)

    def signature(self, names: dict[str, str]) -> Any:
        """The state, numbers by these names; how long ago `strip` was said is now or long ago."""
        read = self.session._hand._read
        pieces = [
            (one.kind, names.get(one.article or ""), names.get(one.card or ""))
            for one in self.book._entries
        ]
        return (
            tuple(sorted((one.side, one.how, names[one.number.text]) for one in read.readings)),
            tuple(sorted({str(one.code) for one in read.found})),
            names.get(read.last_line, read.last_line),
            names.get(self.session._hand._doubtful, self.session._hand._doubtful),
            read.strip_is_next,
            self.session.is_stopped,
            self.passed_s - self.session._strip_pace._asked_for_s < TURN_OVER_S,
            names.get(self.session._kept_digits, self.session._kept_digits),
            frozenset(pieces),
            frozenset((names[str(piece)], side) for piece, side in self.looked),
        )


def namings(world: World) -> list[dict[str, str]]:
    """Names for all numbers, one for each way to call the pieces."""
    ways = [(0, 1), (1, 0)] if world.is_symmetric else [(0, 1)]
    found = []
    for way in ways:
        names: dict[str, str] = {}
        for piece, name in zip((0, 1), way, strict=True):
            whole, own = label(1 + piece), card(1 + piece)
            names |= {whole: f"L{name}", own: f"C{name}", whole[:9] + whole[10:]: f"l{name}"}
            names |= {own[:-1]: f"c{name}", str(piece): f"P{name}"}
        found.append(names)
    return found


def check(world: World, place: Place, answer: Answer, path: Iterable[Event]) -> None:
    """What must hold of whatever was finished."""
    for piece in answer.finished:
        told = [event.line or "restart" for event in path]
        if piece.advice is Advice.SEAL:
            _check_seal(world, place, piece, told)
        elif piece.advice is Advice.DO_NOT_SEAL:
            _check_stop(world, place, piece, told)
        assert answer.is_stopped or piece.advice is not Advice.DO_NOT_SEAL, told


def _check_seal(world: World, place: Place, piece: Finished, told: list[str]) -> None:
    """The label was looked at, and so was a box in which that label's number is written. That
    the card that was scanned is the one whose box was read, no program can know."""
    judged = piece.judgement
    of_label = next(one for one in (0, 1) if label(1 + one) == judged.article)
    assert (of_label, Side.LABEL) in place.looked, told
    boxes = {one for one, side in place.looked if side is Side.BOX}
    assert of_label in {world.boxes[one] for one in boxes}, told
    assert judged.card in {card(1 + one) for one, side in place.looked if side is Side.CARD}, told


def _check_stop(world: World, place: Place, piece: Finished, told: list[str]) -> None:
    """A piece of which label and box agree, and of which alone something was read since it was
    begun, is never called different."""
    for one in (0, 1):
        is_own = piece.judgement.article == label(1 + one)  # nobody keyed another one's
        is_alone = {which for which, _ in place.looked} == {one}
        if world.boxes[one] == one and is_own and is_alone:
            raise AssertionError(f"piece {one} is called different after {told}")


def explore(world: World, depth: int) -> int:
    """Try every event in every state up to that depth; how many states there are."""
    every, ways = events(world), namings(world)
    seen: set[Any] = set()
    level: list[tuple[Place, tuple[Event, ...]]] = [(Place(), ())]
    for _ in range(depth):
        deeper = []
        for (place, path), event in itertools.product(level, every):
            if event.is_strip and not place.session.strip_is_next:
                continue
            after = place.copy()
            answer = after.do(event)
            if answer is not None:
                check(world, after, answer, (*path, event))
                if answer.finished or after.session.is_idle:
                    after.looked = frozenset()
            state = min((after.signature(names) for names in ways), key=repr)
            if state not in seen:
                seen.add(state)
                deeper.append((after, (*path, event)))
        level = deeper
    return len(seen)


@pytest.mark.parametrize("world", [World((0, 1)), World((0, 0)), World((1, 0))])
def test_no_order_of_events_leads_to_a_wrong_answer(world: World) -> None:
    assert explore(world, DEPTH) > 300


def test_the_model_finds_a_way_to_a_wrong_seal() -> None:
    """Held against a desk that takes any scan for the strip, the model does find the way."""
    world = World((1, 0))
    place = Place()
    lines = (label(1), card(1), "strip")
    for line in lines:
        place.do(Event(line, Arrived.PIPED, (0, Side.LABEL), 10.0))
    answer = place.do(Event(label(1), Arrived.SCANNED, (0, Side.LABEL), 10.0))
    assert answer is not None
    with pytest.raises(AssertionError):
        check(world, place, answer, ())


if __name__ == "__main__":
    for one in (World((0, 1)), World((0, 0)), World((1, 0))):
        print(one, "states:", explore(one, int(sys.argv[1])))

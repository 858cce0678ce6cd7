"""Every order of events at a desk, up to a depth, against what the pieces really are.

A small model of the world knows two pieces: what is on each label and in each box, and which of
them somebody has looked at since the piece in hand was begun. All events are tried in every state
that can be reached; `states` says which states are one. `python -m tests.desk.test_every_order
DEPTH [PROCESSES]` goes deeper than the suite does, until there is no new state any more.
"""

from __future__ import annotations

import pickle
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, partial
from hashlib import blake2b

import pytest

from pairing.desk.answers import Advice, Answer, Finished
from pairing.desk.words import Arrived
from pairing.findings import Weight
from pairing.model import Side
from tests.desk.states import Event, Kept, Looked, Place, quicken
from tests.ledger.making import card, label

DEPTH = 3

Path = tuple[int, ...]
"""The events that led to a state, by their places among all of them."""

Found = tuple[bytes, Looked, bytes, Path]
"""A state: its name, what was looked at, itself put aside, and the way to it."""


@dataclass(frozen=True)
class World:
    """boxes: which piece's label number is written in the box of piece 0 and of piece 1."""

    boxes: tuple[int, int]

    @property
    def is_symmetric(self) -> bool:
        """Whether the two pieces differ by name alone."""
        return self.boxes in {(0, 1), (1, 0)}


WORLDS = (World((0, 1)), World((0, 0)), World((1, 0)))


@cache
def events(world: World) -> tuple[Event, ...]:
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
            Event(written, Arrived.TYPED, (piece, Side.BOX)),  # without its word
            Event(written, looks_at=(piece, Side.BOX), is_strip=True),
        ]
    words = ("strip", "next", "again", "aside", "confirm torn", "correct", "void", "yes", "/")
    found += [Event(word, Arrived.TYPED) for word in words]
    return (*found, Event("", is_restart=True))


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
    judged = piece.judgment
    of_label = next(one for one in (0, 1) if label(1 + one) == judged.article)
    assert (of_label, Side.LABEL) in place.looked, told
    boxes = {one for one, side in place.looked if side is Side.BOX}
    assert of_label in {world.boxes[one] for one in boxes}, told
    assert judged.card in {card(1 + one) for one, side in place.looked if side is Side.CARD}, told


def _check_stop(world: World, place: Place, piece: Finished, told: list[str]) -> None:
    """Of a piece of which label and box agree, and of which alone something was read since it was
    begun, the box is never called different. What is on record may well say otherwise."""
    clashes = [one for one in piece.judgment.findings if one.weight is Weight.CLASH]
    if not any(str(one.code).startswith("box-") for one in clashes):
        return
    for one in (0, 1):
        is_own = piece.judgment.article == label(1 + one)  # nobody keyed another one's
        is_alone = {which for which, _ in place.looked} <= {one}
        if world.boxes[one] == one and is_own and is_alone:
            raise AssertionError(f"piece {one} is called different after {told}")


def _is_possible(place: Place, event: Event) -> bool:
    return place.session.strip_is_next if event.is_strip else True


def expanded(world: World, states: Sequence[tuple[bytes, Path]]) -> list[Found]:
    """What every event makes of each of these states: the new ones, each with its name, what was
    looked at, the state put aside, and the way to it."""
    place, ways = Place(), namings(world)
    found: list[Found] = []
    least: dict[bytes, list[Looked]] = {}
    for packed, path in states:
        kept: Kept = pickle.loads(packed)
        for at, event in enumerate(events(world)):
            place.take_up(kept)
            if not _is_possible(place, event):
                continue
            answer = place.do(event)
            way = (*path, at)
            if answer is not None:
                check(world, place, answer, (events(world)[one] for one in way))
                if answer.finished or place.session.is_idle:
                    place.looked = frozenset()
            name, looked = _named(place, ways)
            if _is_new(least, name, looked):
                found.append((name, looked, pickle.dumps(place.keep()), way))
    return found


def _named(place: Place, ways: Sequence[dict[str, str]]) -> tuple[bytes, Looked]:
    """A state's name, the same whatever the pieces are called, and what was looked at in it."""
    named = []
    for names, state in zip(ways, place.told_apart_by(ways), strict=True):
        looked = sorted((int(names[str(piece)][1]), side) for piece, side in place.looked)
        named.append((repr(state), looked))
    text, least = min(named)
    return blake2b(text.encode(), digest_size=16).digest(), frozenset(least)


def _is_new(least: dict[bytes, list[Looked]], name: bytes, looked: Looked) -> bool:
    """Whether no state of this name was seen in which as little was looked at."""
    seen = least.setdefault(name, [])
    if any(one <= looked for one in seen):
        return False
    least[name] = [*(one for one in seen if not looked <= one), looked]
    return True


Levels = Iterator[tuple[int, int]]


def explore(world: World, depth: int, processes: int = 1) -> Levels:
    """Try every event in every state up to that depth; how many states there are and how many
    of them are new, for each depth, until none is."""
    least: dict[bytes, list[Looked]] = {}
    start = Place()
    name, looked = _named(start, namings(world))
    _is_new(least, name, looked)
    level: list[tuple[bytes, Path]] = [(pickle.dumps(start.keep()), ())]
    with _workers(processes) as over:
        for _ in range(depth):
            size = max(1, min(200, len(level) // (4 * processes)))
            parts = [level[at : at + size] for at in range(0, len(level), size)]
            level = []
            for found in over(partial(expanded, world), parts):
                level += [
                    (packed, way)
                    for name, looked, packed, way in found
                    if _is_new(least, name, looked)
                ]
            yield sum(map(len, least.values())), len(level)
            if not level:
                return


@contextmanager
def _workers(processes: int) -> Iterator[Callable[..., Iterable[list[Found]]]]:
    if processes == 1:
        yield map
        return
    with ProcessPoolExecutor(
        processes, initializer=quicken, initargs=(pytest.MonkeyPatch(),)
    ) as pool:
        yield pool.map


@pytest.fixture(autouse=True)
def quickened(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is pure is worked out once."""
    quicken(monkeypatch)


@pytest.mark.parametrize("world", WORLDS)
def test_no_order_of_events_leads_to_a_wrong_answer(world: World) -> None:
    *_, (states, _) = explore(world, DEPTH)
    assert states > 200


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


def main() -> None:
    """Explore each world, and say how far it went."""
    quicken(pytest.MonkeyPatch())
    depth, *rest = map(int, sys.argv[1:])
    for world in WORLDS:
        start = time.monotonic()
        for at, (states, new) in enumerate(explore(world, depth, *rest), 1):
            spent = time.monotonic() - start
            print(world, f"depth {at}: {states:,} states, {new:,} new; {spent:.0f} s", flush=True)


if __name__ == "__main__":
    main()

"""Generated days at two desks, against an independent model of what the pieces truly are.

Clerks scan in either order, twice, cut short, the wrong label, nothing; they key slips, take
back, set aside, start over, correct, void; the program is restarted and the record fails. They
work through every door (`doors`): terminal, lines of a file, the kiosk's page and its camera, the
API. Whatever they do: what is sealed was looked at on both sides, and its label's number is what
is written in a box that was looked at.

    python -m tests.desk.test_generated_days DAYS [FIRST_SEED [PROCESSES]]
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter as Tally
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import cast

import pytest

from pairing.desk.book import RunBook
from pairing.desk.counter import Counter
from pairing.desk.session import TURN_OVER_S, Session
from pairing.ledger import Ledger
from pairing.model import Side
from tests.desk.doors import NOW, Door, Given, Interface, Page, Record, Terminal
from tests.desk.states import quicken
from tests.ledger.making import card, label

PIECES = 6

Told = Tally[tuple[str, str]]
"""How often each door gave each answer."""


@dataclass
class Truth:
    """What is written in each piece's box: its label's number or something else."""

    boxes: list[str]

    @classmethod
    def drawn(cls, chance: random.Random) -> Truth:
        """Most boxes are right; the others have the next label's number, the card's own, or two
        digits swapped."""
        boxes = []
        for piece in range(1, PIECES + 1):
            own = label(piece)
            swapped = own[:-5] + own[-4] + own[-5] + own[-3:]
            others = [label(piece % PIECES + 1), card(piece), swapped]
            boxes.append(own if chance.random() < 0.7 else chance.choice(others))
        return cls(boxes)


@dataclass
class Looked:
    """Numbers that the clerk saw with their own eyes, or held the scanner to."""

    labels: set[str] = field(default_factory=set)
    boxes: set[str] = field(default_factory=set)


@dataclass
class Clerk:
    """A clerk at a door, and what they have looked at since the piece in hand was begun."""

    door: Door
    name: str
    chance: random.Random
    wait: Callable[[float], None]
    looked: Looked = field(default_factory=Looked)
    lost: list[Looked] = field(default_factory=list)
    """What was looked at of pieces that could not be recorded: they may be recorded later."""
    given: list[Given] = field(default_factory=list)

    def hear(self, given: list[Given]) -> None:
        """Hold what was answered against what was looked at."""
        for advice, article in given:
            self.given.append((advice, article))
            if advice == "lost":
                self.lost.append(self.looked)
            elif advice in {"seal", "corrected"}:
                seen = [self.looked, *self.lost]
                assert any(article in one.labels and article in one.boxes for one in seen)
        if self.door.is_idle:  # what `retry` tells of is no piece in hand
            self.looked = Looked()
        if self.door.is_stopped and self.happens(0.8):
            self.say(self.chance.choice(("aside", "again")))

    def happens(self, share: float) -> bool:
        return self.chance.random() < share

    def say(self, word: str, takes_s: float = 5.0) -> None:
        self.wait(takes_s)
        self.hear(self.door.word(word))

    def scan(self, text: str, takes_s: float = 5.0) -> None:
        self.wait(takes_s)
        self.hear(self.door.scan(text))

    def key(self, side: Side, text: str) -> None:
        self.wait(5.0)
        self.hear(self.door.key(side, text))

    def piece(self, truth: Truth, piece: int) -> Iterator[None]:
        """One piece from label to box, with whatever goes wrong; a step at a time."""
        steps = [self._label, self._card]
        if self.happens(0.5):
            steps.reverse()
        for step in steps:
            if self.happens(0.95):
                step(piece)
                yield
            if self.happens(0.04):
                self._stray()
                yield
        if self.happens(0.03):
            lost = [*self.lost, self.looked]
            self.hear(self.door.restart())
            self.lost = lost  # its entries may be offered again
            yield
        self._box(truth, piece)
        yield
        if Side.BOX not in self.door.missing and not self.door.is_idle and self.happens(0.9):
            self.looked.labels.add(label(piece))  # whoever vouches looks at it
            self.say("confirm the bars are torn")
            yield
        if self.happens(0.05):
            word = self.chance.choice(("correct", "correct", "void 1 slip", "retry"))
            self.say(word)
            yield
            if word == "correct" and self.door.is_idle:
                for step in (self._label, self._card):
                    step(piece)
                    yield
                self._box(truth, piece)
                yield

    def _stray(self) -> None:
        words = ["again", "next", "nonsense", "aside", "note slow", "retry"]
        # Once it is taken, a label that is scanned at leisure cannot be told from a strip.
        words += ["strip"] if len(self.door.missing) > 1 else []
        self.say(self.chance.choice(words))

    def _label(self, piece: int) -> None:
        which = piece if self.happens(0.96) else self.chance.randint(1, PIECES)
        self._scanned(label(which))
        if which == piece and label(which) not in self.looked.labels and self.happens(0.3):
            self.looked.labels.add(label(which))
            self.key(Side.LABEL, label(which))

    def _card(self, piece: int) -> None:
        which = piece if self.happens(0.97) else self.chance.randint(1, PIECES)
        self._scanned(card(which))

    def _scanned(self, number: str) -> None:
        """A scan, whole or with a digit lost, once or twice; or a picture."""
        if self.door.strip_is_next:  # at leisure it would be the strip's
            self.say("again")
        if self.happens(0.08):
            lost = self.chance.randrange(len(number))
            self.scan(number[:lost] + number[lost + 1 :])
            if self.happens(0.5):
                return
        self.looked.labels.add(number)  # a card's number there is no label's
        if self.happens(0.2) and (given := self._seen(number)) is not None:
            self.hear(given)
            return
        self.scan(number)
        if self.happens(0.06):
            self.looked.labels.add(number)
            self.scan(number, takes_s=0.1)

    def _seen(self, number: str) -> list[Given] | None:
        """What the camera makes of it; None where there is none."""
        if not isinstance(self.door, Page):
            return None
        self.wait(1.0)
        side = Side.CARD if number.startswith("95") else Side.LABEL
        return self.door.see([(side, number)])

    def _box(self, truth: Truth, piece: int) -> None:
        written = truth.boxes[piece - 1]
        if self.happens(0.3):
            self.say("strip")
            if self.happens(0.1) and not isinstance(self.door, Interface) and self._is_watched():
                # The label once more, in a hurry.
                self.scan(label(piece), takes_s=TURN_OVER_S / 2)
            else:
                self.looked.boxes.add(written)
                self.scan(written)
                return
        if self.happens(0.1):  # a slip of the keys
            place = self.chance.randrange(len(written))
            slip = written[:place] + str((int(written[place]) + 1) % 10) + written[place + 1 :]
            self.key(Side.BOX, slip)
            return
        self.looked.boxes.add(written)
        self.key(Side.BOX, written)

    def _is_watched(self) -> bool:
        return not isinstance(self.door, Terminal) or self.door.is_live


DOORS = ("counter", "file", "check", "page", "api")


class Clock:
    """The time that all desks of a day share."""

    def __init__(self) -> None:
        self.passed_s = 1_000.0

    def ticks(self) -> float:
        return self.passed_s

    def wait(self, seconds: float) -> None:
        self.passed_s += seconds


def opened(name: str, record: Record | Ledger, clock: Clock) -> Door:
    """A door of that name at that record."""
    ledger = cast(Ledger, record)
    if name == "check":
        book = RunBook(lambda: NOW)
        return Terminal(lambda: Session(book, operator="o", ticks=clock.ticks, is_live=True))
    if name in {"counter", "file"}:
        is_live = name == "counter"
        return Terminal(
            lambda: Counter(
                ledger, desk="d", operator="o", clock=lambda: NOW, ticks=clock.ticks,
                is_live=is_live,
            ),
            is_live=is_live,
        )  # fmt: skip
    return Page(ledger, clock.ticks) if name == "page" else Interface(ledger)


def day(seed: int, record: Record | Ledger | None = None) -> Told:
    """One day at two desks that share the record; what was answered how often."""
    chance = random.Random(seed)
    truth, clock = Truth.drawn(chance), Clock()
    names = chance.choices(DOORS, k=2)
    fails = chance.random() < 0.3
    failing = random.Random(seed + 1)
    record = record or Record(lambda: fails and failing.random() < 0.05)
    clerks = [Clerk(opened(name, record, clock), name, chance, clock.wait) for name in names]
    order = [chance.randint(1, PIECES) for _ in range(2 * PIECES)]
    work = [clerk.piece(truth, piece) for piece in order for clerk in clerks]
    under_way = [work[0::2], work[1::2]]
    try:
        while any(under_way):
            mine = chance.choice([one for one in under_way if one])
            if next(mine[0], "done") == "done":
                mine.pop(0)
        _check_record(record)
    except AssertionError as wrong:
        raise AssertionError(f"The day of seed {seed} at {names}") from wrong
    return Tally((clerk.name, advice) for clerk in clerks for advice, _ in clerk.given)


def _check_record(record: Record | Ledger) -> None:
    """No number is held by two pieces."""
    if isinstance(record, Record):
        pieces = record.standing()
        for held in zip(*pieces, strict=True):
            numbers = [one for one in held if isinstance(one, str) and one]
            assert len(numbers) == len(set(numbers))


@pytest.fixture(autouse=True)
def quickened(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is pure is worked out once."""
    quicken(monkeypatch)


def test_days_at_every_door() -> None:
    total: Told = Tally()
    for seed in range(60):
        total += day(seed)
    for door in DOORS:  # the days are not all chaos
        assert total[door, "seal"] > 20
        assert total[door, "look"] > 0


@pytest.mark.parametrize("seed", range(3))
def test_days_at_two_desks_of_one_ledger(seed: int, tmp_path: Path) -> None:
    with Ledger.open(str(tmp_path / "ledger.db"), clock=lambda: NOW) as ledger:
        told = day(seed, ledger)
        assert ledger.verify().is_clean
    assert told == day(seed, Record())  # and the ledger's days are those in memory


def some_days(count: int, first: int) -> Told:
    """So many days from that seed on."""
    return sum((day(seed) for seed in range(first, first + count)), start=Tally())


def main() -> None:
    """Run so many days, and say how many pieces were answered how."""
    days, first, processes = (*map(int, sys.argv[1:]), *(0, 1)[len(sys.argv) - 2 :])
    start, total = time.monotonic(), Tally[tuple[str, str]]()
    patch = pytest.MonkeyPatch()
    with ProcessPoolExecutor(processes, initializer=quicken, initargs=(patch,)) as pool:
        parts = pool.map(partial(some_days, 50), range(first, first + days, 50))
        for done, told in enumerate(parts, 1):
            total += told
            if done % 100 == 0 or 50 * done >= days:
                spent = time.monotonic() - start
                print(f"{50 * done:,} days from seed {first}; {spent:.0f} s", flush=True)
                _print(total)


def _print(total: Told) -> None:
    for door in DOORS:
        told = {advice: many for (at, advice), many in sorted(total.items()) if at == door}
        print("   ", door, told, flush=True)


if __name__ == "__main__":
    main()

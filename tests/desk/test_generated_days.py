"""Generated days at two desks, against an independent model of what the pieces truly are.

Clerks scan in either order, twice, cut short, the wrong label, nothing; they key slips, take
back, set aside, start over, and the program is restarted. Whatever they do: what is sealed was
looked at on both sides, and its label's number is what is written in a box that was looked at.
`python -m tests.desk.test_generated_days DAYS` runs more than the suite does.
"""

from __future__ import annotations

import random
import sys
from collections import Counter as Tally
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pairing.desk.answers import Advice, Finished
from pairing.desk.book import RunBook
from pairing.desk.counter import Counter
from pairing.desk.session import Session
from pairing.desk.strip_pace import TURN_OVER_S
from pairing.desk.words import Arrived
from pairing.ledger import Ledger
from tests.ledger.making import card, label

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)
PIECES = 6


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
class Desk:
    """A clerk at a session, and what they have looked at since the piece in hand was begun."""

    begin: Callable[[Callable[[], float]], Session]
    chance: random.Random
    passed_s: float = 0.0
    labels: set[str] = field(default_factory=set)
    boxes: set[str] = field(default_factory=set)
    given: list[tuple[Finished, frozenset[str], frozenset[str]]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.session = self.begin(lambda: self.passed_s)

    def restart(self) -> None:
        """The program ends in the middle, and is started again."""
        self.session = self.begin(lambda: self.passed_s)
        self.labels, self.boxes = set(), set()

    def say(self, line: str, arrived: Arrived = Arrived.TYPED, takes_s: float = 5.0) -> None:
        """One entry; a stopped piece is dealt with, mostly."""
        self.passed_s += takes_s
        answer = self.session.take(line, arrived=arrived)
        for piece in answer.finished:
            self.given.append((piece, frozenset(self.labels), frozenset(self.boxes)))
        if answer.finished or self.session.is_idle:
            self.labels, self.boxes = set(), set()
        if answer.is_stopped and self.chance.random() < 0.8:
            self.say(self.chance.choice(("aside", "again")))

    def piece(self, truth: Truth, piece: int) -> Iterator[None]:
        """One piece from label to box, with whatever goes wrong; a step at a time."""
        steps = [self._label, self._card]
        if self.chance.random() < 0.5:
            steps.reverse()
        for step in steps:
            if self.chance.random() < 0.95:
                step(piece)
                yield
            if self.chance.random() < 0.04:
                words = ["again", "next", "nonsense", "aside"]
                # Once it is taken, a label that is scanned at leisure cannot be told from a strip.
                words += ["strip"] if len(self.session.missing) > 1 else []
                self.say(self.chance.choice(words))
                yield
        if self.chance.random() < 0.03:
            self.restart()
            yield
        self._box(truth, piece)
        yield
        if self.session.must_confirm:
            self.labels.add(label(piece))  # whoever vouches looks at it
            self.say("confirm the bars are torn")
            yield

    def _label(self, piece: int) -> None:
        which = piece if self.chance.random() < 0.96 else self.chance.randint(1, PIECES)
        self._scanned(label(which))
        if which == piece and label(which) not in self.labels and self.chance.random() < 0.3:
            self.labels.add(label(which))
            self.say(f"label {label(which)}")

    def _card(self, piece: int) -> None:
        which = piece if self.chance.random() < 0.97 else self.chance.randint(1, PIECES)
        self._scanned(card(which))

    def _scanned(self, number: str) -> None:
        """A scan, whole or with a digit lost, once or twice."""
        if self.chance.random() < 0.08:
            lost = self.chance.randrange(len(number))
            self.say(number[:lost] + number[lost + 1 :], Arrived.SCANNED)
            if self.chance.random() < 0.5:
                return
        self.labels.add(number)  # a card's number there is no label's
        self.say(number, Arrived.SCANNED)
        if self.chance.random() < 0.06:
            self.labels.add(number)
            self.say(number, Arrived.SCANNED, takes_s=0.1)

    def _box(self, truth: Truth, piece: int) -> None:
        written = truth.boxes[piece - 1]
        if self.chance.random() < 0.3:
            self.say("strip")
            if self.chance.random() < 0.1:  # the label once more, in a hurry
                self.say(label(piece), Arrived.SCANNED, takes_s=TURN_OVER_S / 2)
            else:
                self.boxes.add(written)
                self.say(written, Arrived.SCANNED)
                return
        if self.chance.random() < 0.1:  # a slip of the keys
            place = self.chance.randrange(len(written))
            slip = written[:place] + str((int(written[place]) + 1) % 10) + written[place + 1 :]
            self.say(f"/{slip}")
            return
        self.boxes.add(written)
        self.say(f"/{written}", self.chance.choice((Arrived.TYPED, Arrived.TYPED, Arrived.PIPED)))


def day(seed: int, begin: Callable[[Callable[[], float]], Session]) -> Tally[Advice]:
    """One day at two desks that share the record; what was answered how often."""
    chance = random.Random(seed)
    truth = Truth.drawn(chance)
    desks = [Desk(begin, chance), Desk(begin, chance)]
    order = [chance.randint(1, PIECES) for _ in range(2 * PIECES)]
    work = [desk.piece(truth, piece) for piece in order for desk in desks]
    under_way = [work[0::2], work[1::2]]
    while any(under_way):
        mine = chance.choice([one for one in under_way if one])
        if next(mine[0], "done") == "done":
            mine.pop(0)
    tally: Tally[Advice] = Tally()
    sealed: set[str] = set()
    for desk in desks:
        for piece, labels, boxes in desk.given:
            tally[piece.advice] += 1
            if piece.advice is Advice.SEAL:
                article = piece.judgement.article or ""
                assert article in labels, seed  # the label was looked at
                assert article in boxes, seed  # and it is what is written in a box looked at
                assert article not in sealed, seed  # no number is sealed twice
                sealed.add(article)
    return tally


def in_memory(seed: int) -> Tally[Advice]:
    """A day whose record is in memory."""
    book = RunBook(lambda: NOW)
    return day(seed, lambda ticks: Session(book, operator="o", ticks=ticks, is_live=True))


def test_days_without_a_ledger() -> None:
    total: Tally[Advice] = Tally()
    for seed in range(60):
        total += in_memory(seed)
    assert total[Advice.SEAL] > 100  # the days are not all chaos
    assert total[Advice.DO_NOT_SEAL] > 30


@pytest.mark.parametrize("seed", range(3))
def test_days_at_two_counters_of_one_ledger(seed: int, tmp_path: Path) -> None:
    with Ledger.open(str(tmp_path / "ledger.db"), clock=lambda: NOW) as ledger:
        tally = day(
            seed,
            lambda ticks: Counter(
                ledger, desk="d", operator="o", clock=lambda: NOW, ticks=ticks, is_live=True
            ),
        )
        assert ledger.verify().is_clean
        assert tally == in_memory(seed)  # and the ledger's days are those without one


def main() -> None:
    """Run so many days, and say how many pieces were answered how."""
    total: Tally[Advice] = Tally()
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    for seed in range(first, first + int(sys.argv[1])):
        total += in_memory(seed)
    print({str(advice): many for advice, many in total.items()}, "in", sys.argv[1], "days")


if __name__ == "__main__":
    main()

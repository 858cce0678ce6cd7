"""Clerks at work: what they do with a piece, right or wrong, and what they have looked at.

What they know of the pieces is not what the program knows; nothing here asks the program what
is true.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from pairing.desk.strip_timer import TURN_OVER_S
from pairing.model import Side
from tests.desk.doors import Door, Given, Interface, Page, Terminal
from tests.ledger.making import card, label

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
    stopped: Looked = field(default_factory=Looked)
    """What was looked at of the piece that is stopped now."""
    given: list[Given] = field(default_factory=list)

    def hear(self, given: list[Given]) -> None:
        """Hold what was answered against what was looked at."""
        for advice, article in given:
            self.given.append((advice, article))
            if advice == "lost":
                self.lost.append(self.looked)
            elif advice in {"seal", "corrected"}:
                seen = [self.looked, self.stopped, *self.lost]
                assert any(article in one.labels and article in one.boxes for one in seen)
        if any(advice in {"stop", "look", "ask"} for advice, _ in given):
            self.stopped = self.looked  # a word may have it judged once more
        elif not self.door.is_stopped:
            self.stopped = Looked()
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
            if word.startswith("void"):
                self.say("yes")
                yield
            if word == "correct" and self.door.is_idle:
                for step in (self._label, self._card):
                    step(piece)
                    yield
                self._box(truth, piece)
                yield

    def _stray(self) -> None:
        words = ["again", "next", "nonsense", "aside", "note slow", "retry", "unlisted", "nonumber"]
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
                if not self.door.strip_is_next:
                    self.looked.labels.add(label(piece))
                self.scan(label(piece), takes_s=TURN_OVER_S / 2)
            else:
                # Where no strip is waited for, its bars cannot be told from its label's.
                (self.looked.boxes if self.door.strip_is_next else self.looked.labels).add(written)
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

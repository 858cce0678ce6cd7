"""Generated lists of events, played in a real browser against a model of what is true.

The events are those of `tests.desk.test_every_order`: a clerk scans, keys and presses in any
order. What may be pressed is what the page shows. The model knows what is on each label and in
each box, and what was looked at since the piece in hand was begun; it asks the page nothing but
whether a piece is in hand. `python -m tests.kiosk.test_generated_page LISTS` plays more.
"""

from __future__ import annotations

import random
import sys
import tempfile
from collections import Counter as Tally
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from pairing.desk import strip_timer
from pairing.kiosk import Settings
from pairing.ledger import Kind, Ledger
from tests.kiosk.conftest import Hosted
from tests.kiosk.driving import SCANNER_S, Browser, Tab
from tests.kiosk.making import pair

EVENTS = 16
HELD = {"stop", "look", "ask"}


@dataclass
class Clerk:
    """Someone at the page. boxes: what is written in the box of each piece; labels_seen,
    boxes_seen: what was looked at since the piece in hand was begun."""

    tab: Tab
    service: Hosted
    chance: random.Random
    first: int
    boxes: list[str] = field(init=False)
    labels_seen: set[str] = field(default_factory=set)
    boxes_seen: set[str] = field(default_factory=set)
    done: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.pieces = [pair(self.first), pair(self.first + 1)]
        own = [label for label, _ in self.pieces]
        self.boxes = [self.chance.choice([one, one, other])
                      for one, other in zip(own, own[::-1], strict=True)]  # fmt: skip

    def entries(self) -> int:
        with self.service.ledger() as ledger:
            return ledger.size()

    def act(self) -> None:
        """One event, and what must hold after it."""
        before, held = self.entries(), self.tab.shown()
        piece = self.chance.randrange(2)
        events = [self._scan_label, self._scan_card, self._scan_cut, self._key_box,
                  self._strip, self._press, self._key_label]  # fmt: skip
        event = self.chance.choices(events, (6, 6, 1, 7, 3, 3, 1))[0]
        self.done.append(f"{event.__name__[1:]} {piece} on {held}")
        event(piece)
        self.tab.wait(0.05)
        self._check(before, held)

    def _check(self, before: int, held: str) -> None:
        with self.service.ledger() as ledger:
            new = list(ledger.entries(first=before + 1))
        for entry in new:
            if entry.kind is Kind.PAIRED:
                assert entry.article in self.labels_seen, self.done
                assert entry.article in self.boxes_seen, self.done
                assert self.tab.shown() == "seal", self.done
            else:
                assert self.tab.shown() != "seal", self.done
        if held in HELD and not self.done[-1].startswith("press"):
            assert not new, self.done
            assert self.tab.shown() == held, self.done
        if new or all(self.tab.state(one) == "wanted" for one in ("label", "card", "box")):
            self.labels_seen, self.boxes_seen = set(), set()

    def _scan(self, text: str) -> None:
        """A scanner sends it; after a stop the page makes no entry of it."""
        if self.tab.shown() not in HELD:
            self.tab.scan(text)
            return
        self.tab.pause()
        self.tab.send(self.tab.keys([*text, "Enter"], SCANNER_S))
        self.tab.wait(0.3)

    def _scan_label(self, piece: int) -> None:
        if self._is_pressed():
            return  # at leisure it would be the strip's
        self.labels_seen.add(self.pieces[piece][0])
        self._scan(self.pieces[piece][0])

    def _scan_card(self, piece: int) -> None:
        self._scan(self.pieces[piece][1])

    def _scan_cut(self, piece: int) -> None:
        number = self.pieces[piece][self.chance.randrange(2)]
        self._scan(number[:9] + number[10:])

    def _key_box(self, piece: int) -> None:
        if self._is_keyable():
            self.boxes_seen.add(self.boxes[piece])
            self.tab.key_in(self.boxes[piece])

    def _key_label(self, piece: int) -> None:
        if self._is_keyable() and self.tab.run(self.tab.page.is_visible("#do-key")):
            self.tab.key_in(self.pieces[piece][0], "label")

    def _strip(self, piece: int) -> None:
        if not self._is_shown("#do-strip"):
            return
        self.tab.click("#do-strip")
        self.tab.settle()
        if self._is_pressed():
            self.boxes_seen.add(self.boxes[piece])
            self._scan(self.boxes[piece])

    def _press(self, _: int) -> None:
        shown = [one for one in ("#do-aside", "#do-again", "#do-next") if self._is_shown(one)]
        if shown:
            self.tab.click(self.chance.choice(shown))
            self.tab.settle()

    def _is_shown(self, selector: str) -> bool:
        return bool(self.tab.run(self.tab.page.is_visible(selector)))

    def _is_pressed(self) -> bool:
        pressed = self.tab.run(self.tab.page.get_attribute("#do-strip", "aria-pressed"))
        return bool(pressed == "true")

    def _is_keyable(self) -> bool:
        return self.tab.shown() not in HELD and (
            self._is_shown("#do-key") or self._is_shown("#keying")
        )


def play(browser: Browser, service: Hosted, seed: int) -> Tally[str]:
    """One list of events on a page of its own; what the ledger has of it."""
    tab = browser.open(service.address)
    with service.ledger() as ledger:
        before = ledger.size()
    clerk = Clerk(tab, service, random.Random(seed), first=100 + 2 * seed)
    for _ in range(EVENTS):
        clerk.act()
    assert tab.errors == []
    tab.close()
    with service.ledger() as ledger:
        return Tally(entry.kind.value for entry in ledger.entries(first=before + 1))


@pytest.fixture
def played(browser: Browser, service: Hosted) -> Iterator[tuple[Browser, Hosted]]:
    """A browser and a kiosk."""
    yield browser, service


def test_generated_lists_in_the_page(played: tuple[Browser, Hosted]) -> None:
    total: Tally[str] = Tally()
    for seed in range(4):
        total += play(*played, seed)
    assert total[Kind.PAIRED.value] > 0
    assert total[Kind.STOPPED.value] > 0


def main() -> None:
    """Play so many lists, and say what came of them."""
    strip_timer.TURN_OVER_S = 0.0
    count, first = (*map(int, sys.argv[1:]), 1_000)[:2]
    total: Tally[str] = Tally()
    browser = Browser()
    with tempfile.TemporaryDirectory() as place, Ledger.open(str(Path(place) / "l.db")) as ledger:
        service = Hosted(ledger, Settings(desk="desk 1"))
        for seed in range(first, first + count):
            total += play(browser, service, seed)
        service.close()
    browser.close()
    print(f"{count} lists of {EVENTS} events from seed {first}: {dict(total)}")


if __name__ == "__main__":
    main()

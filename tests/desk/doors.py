"""Every door through which a piece may be sealed, driven alike.

A door takes what a clerk does with one piece and gives what was answered: the advice and the
article number that it is about. What the clerk looked at is kept here, apart from the program.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any, Protocol

from pairing.desk.answers import Advice, Answer
from pairing.desk.counter import Counter
from pairing.desk.session import Session
from pairing.desk.words import Arrived
from pairing.errors import KeyReused
from pairing.kiosk import checking
from pairing.kiosk.camera_box import Frame
from pairing.kiosk.messages import Offer
from pairing.kiosk.refusals import Refused
from pairing.kiosk.sessions import EntryKind, Sessions
from pairing.kiosk.settings import Settings
from pairing.ledger import Ledger
from pairing.model import How, Quad, Reading, Side
from pairing.numbers import identify
from pairing.wedge import WedgeSetup
from tests.desk.records import NOW

Given = tuple[str, str]
"""What was answered (`_NAMES`), and the article it is about."""

_NAMES = {
    Advice.SEAL: "seal",
    Advice.CORRECTED: "corrected",
    Advice.DO_NOT_SEAL: "stop",
    Advice.SCAN_AGAIN: "look",
    Advice.ASK: "ask",
    Advice.DONE_ALREADY: "done",
    Advice.NOT_RECORDED: "lost",
}

_HELD = {"stop", "look", "ask"}
"""After these the page waits for a deliberate act."""


class Door(Protocol):
    """One place where pieces are prepared."""

    @property
    def is_stopped(self) -> bool:
        """Whether a stopped piece has to be put away first."""

    @property
    def is_idle(self) -> bool:
        """Whether no piece is in hand."""

    @property
    def missing(self) -> tuple[Side, ...]:
        """The sides that are not read."""

    @property
    def strip_is_next(self) -> bool:
        """Whether a strip is waited for."""

    def scan(self, text: str) -> list[Given]:
        """A scanner sends this."""

    def key(self, side: Side, text: str) -> list[Given]:
        """A person keys this."""

    def word(self, word: str) -> list[Given]:
        """strip, next, again, aside, or another word that the door may not know."""

    def restart(self) -> list[Given]:
        """The program ends and is started again; whoever can offers again what they had."""

    def see(self, numbers: list[tuple[Side, str]]) -> list[Given]:
        """A camera's picture shows these bars."""


@dataclass
class Terminal:
    """`counter`, or `check` where there is no ledger; live, or lines of a file."""

    begin: Callable[[], Session]
    is_live: bool = True
    session: Session = field(init=False)

    def __post_init__(self) -> None:
        self.session = self.begin()

    @property
    def is_stopped(self) -> bool:
        return self.session.is_stopped

    @property
    def is_idle(self) -> bool:
        return self.session.is_idle

    @property
    def missing(self) -> tuple[Side, ...]:
        return self.session.missing

    @property
    def strip_is_next(self) -> bool:
        return self.session.strip_is_next

    def scan(self, text: str) -> list[Given]:
        return self._given(self.session.take(text, arrived=self._by(Arrived.SCANNED)))

    def key(self, side: Side, text: str) -> list[Given]:
        return self._given(self.session.take(f"{side} {text}", arrived=self._by(Arrived.TYPED)))

    def word(self, word: str) -> list[Given]:
        return self._given(self.session.take(word, arrived=self._by(Arrived.TYPED)))

    def restart(self) -> list[Given]:
        self.session = self.begin()
        return []

    def see(self, numbers: list[tuple[Side, str]]) -> list[Given]:
        return []

    def _by(self, arrived: Arrived) -> Arrived:
        return arrived if self.is_live else Arrived.PIPED

    @staticmethod
    def _given(answer: Answer) -> list[Given]:
        return [(_NAMES[one.advice], one.judgment.article or "") for one in answer.finished]


@dataclass
class Page:
    """The kiosk's page at its service: stops are its own, and entries are offered again."""

    ledger: Ledger
    ticks: Callable[[], float]
    sessions: Sessions = field(init=False)
    is_stopped: bool = False
    _sent: list[tuple[EntryKind, str, str] | Frame] = field(default_factory=list)
    _keys: Iterator[int] = field(default_factory=itertools.count)

    def __post_init__(self) -> None:
        self._serve()
        self.name = self.sessions.begin()

    def _serve(self) -> None:
        self.sessions = Sessions(self.ledger, Settings(), clock=lambda: NOW, ticks=self.ticks)

    @property
    def _counter(self) -> Counter:
        return self.sessions._places[self.name].counter

    @property
    def is_idle(self) -> bool:
        return self._counter.is_idle

    @property
    def missing(self) -> tuple[Side, ...]:
        return self._counter.missing

    @property
    def strip_is_next(self) -> bool:
        return self._counter.strip_is_next

    def scan(self, text: str) -> list[Given]:
        return self._put(EntryKind.SCAN, text)

    def key(self, side: Side, text: str) -> list[Given]:
        return self._put(EntryKind(side.value), text)

    def word(self, word: str) -> list[Given]:
        if word in {"aside", "again"} and self.is_stopped:
            self.is_stopped, self._sent = False, []
            return [] if self.is_idle else self._put(EntryKind.AGAIN, "")
        if word not in {"strip", "next", "again"}:
            return []
        return self._put(EntryKind(word), "")

    def restart(self) -> list[Given]:
        """The service is killed; the page begins a new place and offers its piece again."""
        self._serve()
        self.name = self.sessions.begin(self.name)
        sent, self._sent = self._sent, []
        again = (self._show(one) if isinstance(one, Frame) else self._send(*one) for one in sent)
        return [given for answer in again for given in answer]

    def see(self, numbers: list[tuple[Side, str]]) -> list[Given]:
        if self.is_stopped:
            return []
        readings = tuple(_in_picture(*one) for one in numbers)
        digest = f"{next(self._keys):064x}"
        return self._show(Frame(readings=readings, seen=None, digest=digest))

    def _show(self, frame: Frame) -> list[Given]:
        was_strip_next = self.strip_is_next
        try:
            answer = self.sessions.see(self.name, frame, frame.digest)
        except Refused:
            return [("lost", "")]
        return self._kept(frame, answer, was_strip_next)

    def _put(self, kind: EntryKind, text: str) -> list[Given]:
        if self.is_stopped:
            return []
        return self._send(kind, text, f"{id(self)}-{next(self._keys):016}")

    def _send(self, kind: EntryKind, text: str, key: str) -> list[Given]:
        entry = (kind, text, key)
        was_strip_next = self.strip_is_next
        try:
            answer = self.sessions.enter(self.name, kind, text, key)
        except Refused:
            return [("lost", "")]
        return self._kept(entry, answer, was_strip_next)

    def _kept(
        self, entry: tuple[EntryKind, str, str] | Frame, answer: dict[str, Any], was_next: bool
    ) -> list[Given]:
        """What the page keeps to offer it again (`page/outbox.js`)."""
        given = self._given(answer)
        if any(advice == "lost" for advice, _ in given):
            self._sent.append(entry)  # it waits, and is offered once more
            return given
        kind = None if isinstance(entry, Frame) else entry[0]
        # What did not count must not count later, offered again.
        is_turn = kind is EntryKind.STRIP or answer["strip_next"] is not was_next
        kept = [*self._sent, entry] if is_turn or answer["heard"] else self._sent
        self._sent = [] if given or kind is EntryKind.AGAIN else kept
        return given

    def _given(self, answer: dict[str, Any]) -> list[Given]:
        given = [(one["advice"], one["article"] or "") for one in answer["finished"]]
        self.is_stopped = self.is_stopped or any(one in _HELD for one, _ in given)
        return given


@dataclass
class Interface:
    """Other software at the API: it gathers a piece, offers it whole, and offers it again when
    no answer comes."""

    ledger: Ledger
    is_stopped: bool = False
    strip_is_next: bool = False
    _scans: list[str] = field(default_factory=list)
    _strip: str = ""
    _keys: Iterator[int] = field(default_factory=itertools.count)

    @property
    def is_idle(self) -> bool:
        return not self._scans

    @property
    def missing(self) -> tuple[Side, ...]:
        return (Side.LABEL, Side.CARD, Side.BOX)[min(len(self._scans), 2) :]

    def scan(self, text: str) -> list[Given]:
        if self.strip_is_next:
            self.strip_is_next, self._strip = False, text
            return self._offer("")
        self._scans.append(text)
        return []

    def key(self, side: Side, text: str) -> list[Given]:
        return self._offer(text) if side is Side.BOX else []

    def word(self, word: str) -> list[Given]:
        self.strip_is_next = word == "strip"
        if word == "next":
            return self._offer("")
        if word in {"again", "aside"}:
            self._scans, self._strip = [], ""
        return []

    def restart(self) -> list[Given]:
        self._scans, self._strip = [], ""
        return []

    def see(self, numbers: list[tuple[Side, str]]) -> list[Given]:
        return []

    def _offer(self, box: str) -> list[Given]:
        key = f"{id(self)}-{next(self._keys):016}"
        offer = Offer(
            scans=self._scans[-16:], strip=self._strip, box=box, record=True, key=key
        )  # fmt: skip
        self._scans, self._strip = [], ""
        given: list[Given] = []
        for _ in range(3):
            try:
                answer = checking.recorded(self.ledger, offer, WedgeSetup())
            except (Refused, KeyReused):
                continue
            advice = "seal" if answer.may_seal else "look"
            given = [(advice, str(answer.piece["article"] or ""))]  # the last answer counts
        return given


def _in_picture(side: Side, text: str) -> Reading:
    left = 100.0 if side is Side.LABEL else 500.0
    top = {Side.LABEL: 100.0, Side.CARD: 100.0, Side.BOX: 300.0}[side]
    quad = Quad(
        top_left=(left, top),
        top_right=(left + 300, top),
        bottom_right=(left + 300, top + 60),
        bottom_left=(left, top + 60),
    )
    return Reading(side=side, how=How.BARCODE, number=identify(text), source="picture", quad=quad)

"""The places at which pieces are scanned: one open page, one `Counter`, one piece in hand."""

from __future__ import annotations

import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any

from pairing.desk import photographed
from pairing.desk.answers import Answer
from pairing.desk.counter import Counter
from pairing.desk.for_whom import Field
from pairing.errors import CounterfoilError, EntryRefused
from pairing.kiosk import shapes
from pairing.kiosk.camera_box import Frame, Writing
from pairing.kiosk.camera_fields import CardFields
from pairing.kiosk.refusals import Refused
from pairing.kiosk.settings import Settings
from pairing.ledger import Ledger
from pairing.model import Side
from pairing.pieces import office_rules

MOST_PLACES = 200
"""Open pages at one service. Common practice, no source: more than a hall has kiosks."""

FORGOTTEN_AFTER_S = 1_800.0
"""A page that was closed without a word leaves its place behind for this long."""

_REMEMBERED = 16
"""Answers kept by each place; a page has one entry under way at a time."""


class EntryKind(StrEnum):
    """What a page sends: a scan, a number keyed for a side, or a word."""

    SCAN = "scan"
    STRIP = "strip"
    LABEL = "label"
    CARD = "card"
    BOX = "box"
    NEXT = "next"
    AGAIN = "again"


@dataclass(slots=True)
class _Place:
    counter: Counter
    used_s: float
    last_texts: frozenset[str] = frozenset()
    writing: Writing = field(default_factory=Writing)
    fields: CardFields = field(default_factory=CardFields)
    turn: threading.Lock = field(default_factory=threading.Lock)


class Sessions:
    """All places of one service. Its methods serve threads; what they raise is Refused."""

    def __init__(
        self,
        ledger: Ledger,
        settings: Settings,
        *,
        clock: Callable[[], datetime] = lambda: datetime.now(UTC),
        ticks: Callable[[], float] = time.monotonic,
    ) -> None:
        self._ledger = ledger
        self._settings = settings
        self._clock = clock
        self._ticks = ticks
        self._places: OrderedDict[str, _Place] = OrderedDict()
        self._turn = threading.Lock()

    @property
    def in_hand(self) -> int:
        """How many places have a piece in hand."""
        with self._turn:
            return sum(not place.counter.is_idle for place in self._places.values())

    def begin(self, instead: str = "", waited_ms: int = 0) -> str:
        """Open a place; the name by which the page calls it.

        instead: the place that it had before and whose entries it will offer again; forgotten
        with all that is in hand there. waited_ms: how long ago the page took the last of them.
        """
        name = secrets.token_urlsafe(24)
        counter = Counter(
            self._ledger,
            desk=self._settings.desk,
            operator=self._settings.operator,
            setup=office_rules.wedge_setup(self._settings.gs),
            clock=self._clock,
            ticks=self._ticks,
            is_live=True,
            holds=False,  # the page does, so that it also knows what came too early
            asked=self._settings.asked,
            asks_kind=self._settings.asks_kind,
            may_confirm=False,  # nobody is there who could vouch for a label
            remembered=_REMEMBERED,
        )
        if waited_ms:
            counter.was_read(waited_ms / 1_000)
        with self._turn:
            self._places.pop(instead, None)
            self._sweep()
            self._places[name] = _Place(counter=counter, used_s=self._ticks())
        return name

    def enter(self, name: str, kind: EntryKind, text: str, key: str) -> dict[str, Any]:
        """Take one entry; the answer for the page. Whatever it finished is on the disk."""
        place = self._place(name)
        with place.turn, _desk_errors_refused():
            given = self._given(place, kind, text, key)
            return self._answer(place, given)

    def see(self, name: str, frame: Frame, key: str) -> dict[str, Any]:
        """Take what was read in a picture. A finished piece that still lies before the camera
        is not begun again."""
        place = self._place(name)
        texts = {one.number.text for one in frame.readings}
        with place.turn, _desk_errors_refused():
            counter = place.counter
            if counter.is_idle and texts <= place.last_texts:
                return self._answer(place, Answer(missing=counter.missing))
            place.fields.add(frame, counter.in_hand[1])
            given = counter.see(
                photographed.of_picture(frame.readings, frame.digest),
                found=place.fields.found,
                key=key,
            )
            place.writing.add(frame)
            if not given.finished:
                given = _with_writing(place, given, key)
            fields = [shapes.field(one) for one in place.fields.seen]
            return {**self._answer(place, given), "fields": fields}

    def tell(self, name: str, about: Mapping[Field, str], of: int | None, key: str) -> Any:
        """For whom and why the piece in hand is, or the recorded one of entry `of`; the answer for
        the page. Nothing of it is in the answer."""
        place = self._place(name)
        with place.turn, _desk_errors_refused():
            return self._answer(place, place.counter.tell(about, of=of, key=key))

    def leave(self, name: str) -> None:
        """Close a place. A piece in hand is recorded as it is: unfinished."""
        with self._turn:
            place = self._places.pop(name, None)
        if place is not None:
            self._close(place)

    def close(self) -> None:
        """Close all places."""
        with self._turn:
            places, self._places = list(self._places.values()), OrderedDict()
        for place in places:
            self._close(place)

    def _given(self, place: _Place, kind: EntryKind, text: str, key: str) -> Answer:
        counter = place.counter
        counter.screen_cleared()  # the page does it before it sends anything
        match kind:
            case EntryKind.SCAN:
                return counter.scan(text, key=key)
            case EntryKind.STRIP if counter.strip_is_next and not text.strip():
                return counter.take_back_strip()
            case EntryKind.STRIP:
                return counter.strip(text, key=key)
            case EntryKind.LABEL | EntryKind.CARD | EntryKind.BOX:
                return counter.key(Side(kind.value), text, key=key)
            case EntryKind.NEXT:
                return counter.finish(key=key)
            case EntryKind.AGAIN:
                place.writing, place.fields = Writing(), CardFields()
                place.last_texts = frozenset()  # the same piece may be shown again
                return counter.forget(key=key)

    def _answer(self, place: _Place, given: Answer) -> dict[str, Any]:
        if given.finished:
            last = given.finished[-1]
            place.last_texts = frozenset(one.number.text for one in last.readings)
            place.writing, place.fields = Writing(), CardFields()
        return {
            **shapes.answer(given, strip_next=place.counter.strip_is_next),
            "may_lack_card": place.counter.may_lack_card_number,
        }

    def _place(self, name: str) -> _Place:
        with self._turn:
            place = self._places.get(name)
            if place is None:
                raise Refused(
                    status=409,
                    code="session",
                    message="The service does not know this page (any more).",
                    action="Start over; what was recorded is found by its key.",
                )
            place.used_s = self._ticks()
            self._places.move_to_end(name)
            return place

    def _sweep(self) -> None:
        """Forget pages that went away; the oldest where there are too many."""
        horizon = self._ticks() - FORGOTTEN_AFTER_S
        while self._places:
            name, place = next(iter(self._places.items()))
            if place.used_s > horizon and len(self._places) < MOST_PLACES:
                return
            del self._places[name]

    @staticmethod
    def _close(place: _Place) -> None:
        with place.turn:
            try:
                place.counter.finish()
            except CounterfoilError:
                return  # the page is gone; nothing was said to be recorded


def _with_writing(place: _Place, given: Answer, key: str) -> Answer:
    """Nothing but the box is missing, and the camera saw what is written there."""
    counter = place.counter
    if counter.missing != (Side.BOX,):
        return given
    readings, digest = place.writing.weighed(*counter.in_hand)
    if not readings:
        return given
    more = counter.see(
        photographed.of_picture(readings, digest), found=place.fields.found, key=f"{key}/box"
    )
    return replace(more, heard=(*given.heard, *more.heard))


@contextmanager
def _desk_errors_refused() -> Iterator[None]:
    """Errors of the desk as refusals."""
    try:
        yield
    except EntryRefused as error:
        raise Refused(
            status=409, code="refused", message=f"{error.what}.", action=error.remedy
        ) from error
    except CounterfoilError as error:
        raise not_recorded() from error


def not_recorded() -> Refused:
    """The ledger cannot be asked or written."""
    return Refused(
        status=503,
        code="not-recorded",
        message="Nothing was recorded: the ledger cannot be used now.",
        action="Offer it again with the same key.",
    )

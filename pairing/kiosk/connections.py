"""Connections whose peer does not go on: how long each is held, and how many, of one peer and of
all."""

from __future__ import annotations

import asyncio
from collections import OrderedDict
from enum import Enum
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from pairing.kiosk.bodies import BODY_S

HEAD_S = 5.0
"""How long the head of a request may take to arrive. Common practice, no source; a page's head
comes in one packet."""

KEEP_ALIVE_S = 20
"""How long a connection stays open after an answer."""

IDLE_S = 1.5 * KEEP_ALIVE_S
"""When it is ended whatever is on its way: a close waits for what the peer has not read."""

UNREAD_S = 20.0
"""How long a peer may leave what it asked for unread. It must take 48 KB in that time, from a full
buffer to one that is filled again (asyncio: 64 and 16 KiB): 20 kbit/s."""


SETTLE_S = 0.1
"""How soon a peer must go on for a burst of its connections to be borne: a proxy's requests, which
come whole, are there within it. (A loop's turn under load takes some 10 ms, a local network 1;
common practice, no source.)"""


class Held:
    """Connections that wait for their peer, the one that waits longest first. It goes when there
    are more than `most` together, or, once a burst has settled, more than `most_of_peer` of one
    address."""

    def __init__(self, *, most_of_peer: int, most: int) -> None:
        self.most_of_peer = most_of_peer
        self.most = most
        self.everyone: OrderedDict[PatientProtocol, None] = OrderedDict()
        self._of_peer: dict[str, OrderedDict[PatientProtocol, None]] = {}

    def add(self, one: PatientProtocol) -> None:
        """It begins to wait; another may be ended for it."""
        held = self._of_peer.setdefault(one.peer, OrderedDict())
        held[one] = self.everyone[one] = None
        is_burst = len(held) > self.most_of_peer
        if len(self.everyone) > self.most:
            next(iter(held if is_burst else self.everyone)).end()
        elif is_burst:
            one.loop.call_later(SETTLE_S, self._thin, one.peer)

    def _thin(self, peer: str) -> None:
        """Of a peer's connections end those that are too many still."""
        held = self._of_peer.get(peer, OrderedDict())
        while len(held) > self.most_of_peer:
            next(iter(held)).end()

    def remove(self, one: PatientProtocol) -> None:
        """Its peer went on."""
        self.everyone.pop(one, None)
        held = self._of_peer.get(one.peer)
        if held is not None:
            held.pop(one, None)
            if not held:
                del self._of_peer[one.peer]


REQUESTS = Held(most_of_peer=32, most=128)
"""Those that wait for a request. A browser opens six at once (common practice, no source), and a
proxy on this machine sends whole heads. All together are half of what the service takes at one
time, so that requests that never come leave the other half to those that do."""

REMAINDERS = Held(most_of_peer=32, most=64)
"""Those that wait for the rest of a body, or for an answer to be read; apart from the others,
so that a proxy's many short requests do not push out the picture that takes its time."""


class _Waits(Enum):
    """What for: where it is counted, and how long in s."""

    HEAD = (REQUESTS, HEAD_S)
    NEXT = (REQUESTS, IDLE_S)
    # A body that is late is answered (`bodies.raw`); this is for a body that nobody asked for.
    BODY = (REMAINDERS, 2 * BODY_S)
    READING = (REMAINDERS, UNREAD_S)


class PatientProtocol(H11Protocol):
    """uvicorn's protocol with limits on connections that wait for their peer: held, they would
    else fill the service, and everybody else would be told that it is busy."""

    peer = ""
    _waits: _Waits | None = None
    _timer: asyncio.TimerHandle | None = None
    _is_lost = False

    def connection_made(self, transport: Any) -> None:
        """A peer connects."""
        super().connection_made(transport)
        name = transport.get_extra_info("peername")
        self.peer = str(name[0]) if isinstance(name, tuple) else ""
        self._look()

    def connection_lost(self, exc: Exception | None) -> None:
        """It is gone."""
        self._is_lost = True
        self._wait(None)
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Some of a head or of a body came."""
        super().data_received(data)
        self._look()

    def on_response_complete(self) -> None:
        """An answer was given, which need not have been read."""
        super().on_response_complete()
        self._look()

    def pause_writing(self) -> None:
        """The peer does not read."""
        super().pause_writing()
        self._look()

    def resume_writing(self) -> None:
        """It did."""
        super().resume_writing()
        self._look()

    def end(self) -> None:
        """Without a word: whoever waits for so long would not hear it."""
        self._wait(None)
        # The loop tells of the loss later; until then uvicorn would count it as one that is held.
        self.connections.discard(self)
        self.transport.abort()

    def _look(self) -> None:
        if self._is_lost:
            return
        if self.flow.write_paused or self.transport.is_closing():
            self._wait(_Waits.READING)
        elif self.conn.their_state is h11.SEND_BODY:
            self._wait(_Waits.BODY)
        elif self.conn.their_state is not h11.IDLE:
            self._wait(None)  # it is being answered
        elif self.cycle is None or self.conn.trailing_data[0]:
            self._wait(_Waits.HEAD)
        else:
            self._wait(_Waits.NEXT)

    def _wait(self, what: _Waits | None) -> None:
        """From now on for this; what it waits for already goes on, however much of it comes."""
        if what is self._waits:
            return
        if self._waits is not None:
            self._waits.value[0].remove(self)
        if self._timer is not None:
            self._timer.cancel()
        self._waits, self._timer = what, None
        if what is not None:
            held, long_s = what.value
            self._timer = self.loop.call_later(long_s, self.end)
            held.add(self)

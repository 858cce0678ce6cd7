"""Connections that do not send what they begin: how long, and how many may be held, by one peer
and by all."""

from __future__ import annotations

import asyncio
from collections import OrderedDict
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_S = 5.0
"""How long the head of a request may take to arrive. Common practice, no source; a page's head
comes in one packet."""

MOST_OF_PEER = 32
"""Connections of one peer that may wait for a head at one time; the one that waits longest goes
when another comes. A browser opens six at once (common practice, no source), and a proxy on this
machine sends whole heads."""

MOST = 128
"""Of all peers together: half of what the service takes at one time, so that heads that never end
leave the other half to those who send theirs."""


class PatientProtocol(H11Protocol):
    """uvicorn's protocol with a limit on heads: unfinished ones would else fill the service and
    everybody else would be told that it is busy."""

    waiting: dict[str, OrderedDict[PatientProtocol, None]] = {}  # noqa: RUF012 - by peer
    everyone: OrderedDict[PatientProtocol, None] = OrderedDict()  # noqa: RUF012 - of all peers
    _timer: asyncio.TimerHandle | None = None
    _peer: str = ""

    def connection_made(self, transport: Any) -> None:
        """A peer connects."""
        super().connection_made(transport)
        name = transport.get_extra_info("peername")
        self._peer = str(name[0]) if isinstance(name, tuple) else ""
        self._wait()

    def connection_lost(self, exc: Exception | None) -> None:
        """It is gone."""
        self._stop()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Some of a head or of a body came."""
        super().data_received(data)
        if self.conn.their_state is not h11.IDLE:
            self._stop()  # the head is whole; bodies have a limit of their own
        elif self.conn.trailing_data[0] and self._timer is None:
            self._wait()  # the next head on a connection that was kept

    def _wait(self) -> None:
        held = self.waiting.setdefault(self._peer, OrderedDict())
        held[self] = self.everyone[self] = None
        self._timer = self.loop.call_later(HEAD_S, self._end)
        if len(held) > MOST_OF_PEER:
            next(iter(held))._end()
        elif len(self.everyone) > MOST:
            next(iter(self.everyone))._end()

    def _stop(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        self.everyone.pop(self, None)
        held = self.waiting.get(self._peer)
        if held is not None:
            held.pop(self, None)
            if not held:
                del self.waiting[self._peer]

    def _end(self) -> None:
        self._stop()
        # The loop tells of the loss later; until then uvicorn would count it as one that is held.
        self.connections.discard(self)
        self.transport.abort()

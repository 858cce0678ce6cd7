"""Slow clients: heads that are begun and not sent."""

from __future__ import annotations

import asyncio
import contextlib
import http.client
import socket
import time
from collections.abc import Callable
from urllib.parse import urlsplit

import pytest
import uvicorn
from uvicorn.server import ServerState

from pairing.kiosk import connections
from tests.kiosk.conftest import Service

SLOW = 300


def ask(address: str) -> int:
    """The status of a plain request."""
    parts = urlsplit(address)
    assert parts.hostname is not None
    opened = http.client.HTTPConnection(parts.hostname, parts.port, timeout=10)
    try:
        opened.request("GET", "/v1/hello")
        return opened.getresponse().status
    finally:
        opened.close()


def is_ended(connection: socket.socket) -> bool:
    """Whether the service ends the connection without a word; TimeoutError where it does not."""
    try:
        return connection.recv(1) == b""
    except ConnectionResetError:
        return True


def test_half_sent_heads_keep_nobody_out(make_service: Callable[..., Service]) -> None:
    """300 of them made the service answer 503 to everybody for as long as they were held."""
    service = make_service()
    parts = urlsplit(service.address)
    with contextlib.ExitStack() as held:
        slow = []
        for _ in range(SLOW):
            one = socket.create_connection((parts.hostname, parts.port), timeout=10)
            slow.append(held.enter_context(one))
            one.sendall(b"GET /v1/hello HTTP/1.1\r\nHost: 127.0.0.1\r\n")
        assert [ask(service.address) for _ in range(3)] == [200] * 3
        # The first of them had to make room for the others; the last ends with its time.
        assert is_ended(slow[0])
        slow[-1].settimeout(connections.HEAD_S * 6)
        assert is_ended(slow[-1])


def test_half_sent_heads_of_many_addresses_keep_nobody_out(
    make_service: Callable[..., Service],
) -> None:
    """1,000 of them from 250 addresses, four of each, made the service answer 503 to everybody."""
    service = make_service()
    parts = urlsplit(service.address)
    with contextlib.ExitStack() as held:
        for number in range(SLOW):
            source = (f"127.0.1.{1 + number // 4}", 0)
            try:
                one = socket.create_connection(
                    (parts.hostname, parts.port), timeout=10, source_address=source
                )
            except OSError:
                pytest.skip("loopback has one address here")
            held.enter_context(one)
            one.sendall(b"GET /v1/hello HTTP/1.1\r\nHost: 127.0.0.1\r\n")
        assert [ask(service.address) for _ in range(3)] == [200] * 3


class Held(asyncio.Transport):
    """A connection that is open until it is ended, and lost no sooner than the loop comes to it."""

    def __init__(self, address: str) -> None:
        super().__init__({"peername": (address, 1)})
        self.is_ended = False

    def abort(self) -> None:
        self.is_ended = True

    def close(self) -> None:
        """Nothing is left to be sent."""


def test_a_burst_of_connections_is_not_counted_as_a_full_service() -> None:
    """Connections that were ended counted until the loop came to them: where 1,000 slow clients
    came at once, the next whole head was answered with 503."""

    async def nothing(_scope: object, _receive: object, _send: object) -> None:
        """Nobody is answered here."""

    async def burst() -> tuple[list[Held], int]:
        config = uvicorn.Config(nothing, log_config=None)
        state = ServerState()
        held = [Held(f"192.0.2.{number % 250}") for number in range(SLOW)]
        for one in held:
            connections.PatientProtocol(config, state, {}).connection_made(one)
        counted = len(state.connections)
        for open_one in list(state.connections):
            open_one.connection_lost(None)
        return held, counted

    held, counted = asyncio.run(burst())
    assert counted == connections.MOST
    assert [one.is_ended for one in held] == [True] * (SLOW - counted) + [False] * counted
    assert not connections.PatientProtocol.everyone


def test_a_kept_connection_is_not_taken_for_a_slow_one(
    make_service: Callable[..., Service],
) -> None:
    service = make_service()
    parts = urlsplit(service.address)
    assert parts.hostname is not None
    kept = http.client.HTTPConnection(parts.hostname, parts.port, timeout=10)
    for pause_s in (connections.HEAD_S + 0.5, 0):
        kept.request("GET", "/v1/hello")
        answer = kept.getresponse()
        answer.read()
        assert answer.status == 200
        time.sleep(pause_s)
    kept.close()

"""Slow clients: heads that are begun and not sent, bodies that do not come, answers that are not
read, connections that are kept for nothing."""

from __future__ import annotations

import asyncio
import contextlib
import http.client
import socket
import time
from collections.abc import Callable, Iterator
from typing import Any
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


@contextlib.contextmanager
def connected(
    address: str, count: int, sent: bytes, answer: bytes = b"", *, timeout_s: float = 10
) -> Iterator[list[socket.socket]]:
    """So many connections, each of which has sent that. answer: how what each of them was sent
    begins, heard before the next one is opened."""
    parts = urlsplit(address)
    with contextlib.ExitStack() as held:
        made = []
        for _ in range(count):
            one = socket.create_connection((parts.hostname, parts.port), timeout=timeout_s)
            made.append(held.enter_context(one))
            one.sendall(sent.replace(b"%b", parts.netloc.encode()))
            assert not answer or one.recv(4096).startswith(answer)
        yield made


def is_ended(connection: socket.socket) -> bool:
    """Whether the service ends the connection without a word; TimeoutError where it does not."""
    try:
        return connection.recv(1) == b""
    except ConnectionResetError:
        return True


def test_half_sent_heads_keep_nobody_out(make_service: Callable[..., Service]) -> None:
    """300 of them made the service answer 503 to everybody for as long as they were held."""
    service = make_service()
    half = b"GET /v1/hello HTTP/1.1\r\nHost: 127.0.0.1\r\n"
    with connected(service.address, SLOW, half) as slow:
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


@pytest.mark.parametrize(
    ("sent", "answer"),
    [
        (b"POST /kiosk/begin HTTP/1.1\r\nHost: %b\r\nOrigin: http://%b\r\nX-Counterfoil: page\r\n"
         b"Content-Type: application/json\r\nContent-Length: 90\r\n"
         b"Expect: 100-continue\r\n\r\n", b"HTTP/1.1 100"),
        (b"GET /v1/hello HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n", b"HTTP/1.1 200"),
        (b"GET /v1/hello HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\nGET /v1", b"HTTP/1.1 200"),
    ],
    ids=["no body", "kept for nothing", "half of the next head"],
)  # fmt: skip
def test_whole_heads_keep_nobody_out(
    make_service: Callable[..., Service], sent: bytes, answer: bytes
) -> None:
    """256 of them did: for 15 s without their bodies, for 20 s as connections that are kept."""
    service = make_service()
    with connected(service.address, SLOW, sent, answer) as slow:
        assert [ask(service.address) for _ in range(3)] == [200] * 3
        assert wait_until(
            lambda: sum(is_open(one) for one in slow) <= connections.REQUESTS.most_of_peer
        )


@pytest.mark.parametrize("count", [33, 100])
def test_a_burst_of_whole_requests_from_one_address_is_answered(
    make_service: Callable[..., Service], count: int
) -> None:
    """As a proxy sends them, each on a connection of its own: of 33 one was cut off unheard, of 64
    a third, since each was held for one that waits until the loop had come to its request."""
    service = make_service()
    whole = b"GET /v1/hello HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n"
    with connected(service.address, count, whole, timeout_s=30) as burst:
        assert [one.recv(12) for one in burst] == [b"HTTP/1.1 200"] * count


def test_a_burst_of_one_address_costs_that_address_its_own_connections() -> None:
    """And nobody else's, though all together are too many."""

    async def nothing(_scope: object, _receive: object, _send: object) -> None:
        """Nobody is answered here."""

    async def burst() -> tuple[Held, list[Held], list[Held]]:
        config = uvicorn.Config(nothing, log_config=None)
        state = ServerState()

        def come(address: str) -> Held:
            held = Held(address)
            connections.PatientProtocol(config, state, {}).connection_made(held)
            return held

        other = come("192.0.2.1")
        flood = [come("192.0.2.2") for _ in range(SLOW)]
        at_once = [one for one in flood if not one.is_ended]
        await asyncio.sleep(3 * connections.SETTLE_S)
        settled = [one for one in flood if not one.is_ended]
        for open_one in list(state.connections):
            open_one.connection_lost(None)
        return other, at_once, settled

    other, at_once, settled = asyncio.run(burst())
    assert not other.is_ended
    assert len(at_once) == connections.REQUESTS.most - 1
    assert len(settled) == connections.REQUESTS.most_of_peer
    assert settled == at_once[-len(settled) :]
    assert not connections.REQUESTS.everyone


def wait_until(is_so: Callable[[], bool]) -> bool:
    """Whether it came about, with patience for a busy machine."""
    end = time.monotonic() + 30
    while not is_so():
        if time.monotonic() > end:
            return False
        time.sleep(0.05)
    return True


def is_open(connection: socket.socket) -> bool:
    """Whether nothing, or some of an answer, is all there is to be read."""
    connection.setblocking(False)
    try:
        while connection.recv(4096):
            pass
    except BlockingIOError:
        return True
    except ConnectionResetError:
        pass
    return False


class Held(asyncio.Transport):
    """A connection that is open until it is ended, and lost no sooner than the loop comes to it."""

    def __init__(self, address: str) -> None:
        super().__init__({"peername": (address, 1)})
        self.is_ended = self.is_closed = False

    def is_closing(self) -> bool:
        """As asyncio's."""
        return self.is_ended or self.is_closed

    def write(self, data: bytes | bytearray | memoryview) -> None:
        """Nobody reads it."""

    def abort(self) -> None:
        self.is_ended = True

    def close(self) -> None:
        """As asyncio's: what was not read holds it up."""
        self.is_closed = True


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
    assert counted == connections.REQUESTS.most
    assert [one.is_ended for one in held] == [True] * (SLOW - counted) + [False] * counted
    assert not connections.REQUESTS.everyone


@pytest.mark.parametrize("closes", [b"", b"Connection: close\r\n"])
def test_answers_that_are_not_read_keep_nobody_out(closes: bytes) -> None:
    """They were held for ever: nothing limited how long an answer may stay unread."""

    async def answer(_scope: object, _receive: object, send: Callable[..., Any]) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b"much", "more_body": not closes})
        await send({"type": "http.response.body", "body": b"more"})

    async def burst() -> tuple[int, float]:
        config = uvicorn.Config(answer, log_config=None)
        state = ServerState()
        everyone = [connections.PatientProtocol(config, state, {}) for _ in range(SLOW)]
        for number, one in enumerate(everyone):
            one.connection_made(Held(f"192.0.2.{number % 250}"))
            one.data_received(b"GET / HTTP/1.1\r\nHost: x\r\n" + closes + b"\r\n")
            if not closes:
                one.pause_writing()
            for _ in range(5):
                await asyncio.sleep(0)
        counted = len(state.connections)
        waiting = [one._timer for one in connections.REMAINDERS.everyone]
        longest_s = max(one.when() for one in waiting if one) - asyncio.get_running_loop().time()
        for one in everyone:
            one.connection_lost(None)
        await asyncio.sleep(0.1)  # their tasks end
        return counted, longest_s

    counted, longest_s = asyncio.run(burst())
    assert counted == connections.REMAINDERS.most
    assert longest_s <= connections.UNREAD_S
    assert not connections.REMAINDERS.everyone


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

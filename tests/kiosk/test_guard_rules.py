"""The guard by itself, before an application that only says that it was reached: every rule's
status, code and headers. Sources as in `test_guard`; 401 with WWW-Authenticate: RFC 9110,
15.5.2."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable
from typing import Any

import pytest
from starlette.datastructures import Headers
from starlette.types import Message, Receive, Scope, Send

from pairing.kiosk import Settings
from pairing.kiosk.guard import Guard, _bearer, _cookie, _hostname, cookies
from pairing.kiosk.secret import Checked

Answer = tuple[int, str, dict[str, str], str]
"""Status, code, headers, action."""

OPEN = Settings(host="0.0.0.0")
OURS = {"origin": "http://127.0.0.1", "x-counterfoil": "page"}


class Known(Checked):
    """Right is "right"; nothing is hashed."""

    def __init__(self) -> None:
        self.asked: list[str] = []

    def is_known(self, secret: str) -> bool:
        return secret == "known"

    def is_right(self, secret: str) -> bool:
        self.asked.append(secret)
        return secret == "right"


async def _reached(scope: Scope, receive: Receive, send: Send) -> None:
    if scope["path"] == "/falls":
        raise RuntimeError("inside")
    headers = [(b"cache-control", b"max-age=5")] if scope["path"] == "/page/x" else []
    await send({"type": "http.response.start", "status": 200, "headers": headers})
    if scope["path"] == "/breaks":
        raise RuntimeError("in the middle")
    await send({"type": "http.response.body", "body": b"{}"})


def make(settings: Settings | None = None) -> Guard:
    """A guard before it."""
    return Guard(_reached, settings=settings or Settings(), token=Known())


def sent(guard: Guard, scope: Scope) -> list[Message]:
    """What it sends for one request."""
    messages: list[Message] = []

    async def receive() -> Message:
        return {"type": "http.request"}

    async def send(message: Message) -> None:
        messages.append(message)

    asyncio.run(guard(scope, receive, send))
    return messages


def ask(
    guard: Guard,
    path: str = "/v1/hello",
    *more: tuple[str, str],
    method: str = "GET",
    client: Any = ("192.0.2.1", 1),
    **headers: str,
) -> Answer:
    """One request from one client, which names the host 127.0.0.1."""
    given = {"host": "127.0.0.1", **{name.replace("_", "-"): one for name, one in headers.items()}}
    pairs = [(a.encode(), b.encode()) for a, b in (*given.items(), *more)]
    scope = {"type": "http", "method": method, "path": path, "headers": pairs, "client": client}
    start, body = (*sent(guard, scope), {"body": b"{}"})[:2]
    error = json.loads(body["body"]).get("error", {})
    found = Headers(raw=start["headers"])
    return start["status"], error.get("code", ""), dict(found), error.get("action", "")


def test_lifespan_passes_and_what_is_neither_does_not() -> None:
    reached = []

    async def app(scope: Scope, _receive: Receive, _send: Send) -> None:
        reached.append(scope["type"])

    guard = Guard(app, settings=Settings(), token=Known())
    for kind in ("lifespan", "websocket"):
        assert sent(guard, {"type": kind}) == []
    assert reached == ["lifespan"]


def test_what_falls_inside_is_answered_once() -> None:
    assert ask(make(), "/falls")[:2] == (500, "inside")
    scope = {"type": "http", "method": "GET", "path": "/breaks", "client": None}
    messages = sent(make(), {**scope, "headers": [(b"host", b"127.0.0.1")]})
    assert [one["status"] for one in messages] == [200]


def test_a_client_without_an_address_has_a_bucket_too() -> None:
    guard = make(Settings(burst=1, per_s=0.001))
    assert ask(guard, client=None)[0] == 200
    status, code, headers, action = ask(guard, client=None)
    assert (status, code, headers["retry-after"]) == (429, "too-many", "1")
    assert action == "Wait a second."
    assert ask(guard, client=("192.0.2.2", 1))[0] == 200


def test_one_host_by_a_name_of_its_own() -> None:
    assert ask(make(), host="other.example")[:2] == (421, "host")
    assert "--name" in ask(make(), host="other.example")[3]
    assert ask(make(), "/v1/hello", ("host", "127.0.0.1"))[:2] == (421, "host")
    assert ask(make(Settings(host="")), host="")[:2] == (421, "host")
    assert ask(make(Settings(host="own.example", names=("n.example",))), "/enter",
               host="own.example")[0] == 200  # fmt: skip
    assert ask(make(OPEN), "/enter", host="192.0.2.9")[0] == 200
    assert ask(make(OPEN), "/enter", host="name.example")[0] == 421
    assert ask(make(Settings(names=("n.example",))), "/enter", host="192.0.2.9")[0] == 421


@pytest.mark.parametrize(
    ("host", "name"),
    [(" A:80 ", "a"), ("a:", "a"), ("a:8x", ""), ("[::1]", "::1"), ("[::1]:8x", ""), ("[::1", "")],
)
def test_hosts(host: str, name: str) -> None:
    assert _hostname(host) == name


@pytest.mark.parametrize(
    ("path", "headers", "expected"),
    [
        ("/v1/pieces", {}, (200, "")),
        ("/v1/pieces", {"origin": "http://127.0.0.1"}, (200, "")),
        ("/v1/pieces", {"origin": "HTTPS://127.0.0.1", "host": "127.0.0.1"}, (200, "")),
        ("/v1/pieces", {"origin": "http://elsewhere"}, (403, "origin")),
        ("/v1/pieces", {"origin": ""}, (403, "origin")),
        ("/v1/pieces", {"sec_fetch_site": "none"}, (200, "")),
        ("/v1/pieces", {"sec_fetch_site": "same-origin"}, (200, "")),
        ("/v1/pieces", {"sec_fetch_site": ""}, (403, "origin")),
        ("/v1/pieces", {"sec_fetch_site": "same-site"}, (403, "origin")),
        ("/kiosk/entry", OURS, (200, "")),
        ("/kiosk/entry", {**OURS, "x-counterfoil": ""}, (200, "")),
        ("/kiosk/entry", {"origin": OURS["origin"]}, (403, "page")),
        ("/kiosk/entry", {"x_counterfoil": "page"}, (403, "page")),
        ("/kiosk/entry", {**OURS, "origin": "http://localhost", "host": "LOCALHOST"}, (200, "")),
    ],
)
def test_where_posts_come_from(
    path: str, headers: dict[str, str], expected: tuple[int, str]
) -> None:
    status, code, _, action = ask(make(), path, method="POST", **headers)
    assert (status, code) == expected
    assert action == ("Other software uses /v1." if code == "page" else "")
    assert ask(make(), path, method="GET", **headers)[0] == 200


def test_the_token_where_it_is_needed() -> None:
    guard = make(OPEN)
    status, code, headers, action = ask(guard)
    assert (status, code, headers["www-authenticate"]) == (401, "token", "Bearer")
    assert "/enter" in action
    assert "location" not in headers
    status, code, headers, _ = ask(guard, accept="text/html")
    assert (status, code, headers["location"]) == (303, "token", "/enter")
    assert "www-authenticate" not in headers
    for path in ("/enter", "/page/x", "/texts/en"):
        assert ask(guard, path)[0] == 200
    for given in ("Bearer known", "bearer right", "BEARER  right "):
        assert ask(guard, authorization=given)[0] == 200
    assert ask(guard, cookie="counterfoil_access=right")[0] == 200
    assert ask(guard, authorization="Basic right")[0] == 401
    assert ask(make())[0] == 200  # nobody else reaches it


def test_only_wrong_tokens_are_counted() -> None:
    guard = make(OPEN)
    for _ in range(20):
        assert ask(guard)[0] == 401
        assert ask(guard, authorization="Bearer right")[0] == 200
    for _ in range(5):
        assert ask(guard, authorization="Bearer wrong")[0] == 401
    for more in ({"authorization": "Bearer wrong"}, {"authorization": "Bearer right"}, {}):
        status, code, headers, action = ask(guard, **more)
        assert (status, code, headers["retry-after"]) == (429, "too-many-tries", "60")
        assert action == "Wait a minute."
    assert ask(guard, authorization="Bearer known")[0] == 200
    assert ask(guard, client=("192.0.2.2", 1), authorization="Bearer right")[0] == 200


def test_headers_of_answers() -> None:
    plain = ask(make())[2]
    assert plain["cache-control"] == "no-store"
    assert plain["x-frame-options"] == "DENY"
    assert "strict-transport-security" not in plain
    assert ask(make(), "/page/x")[2]["cache-control"] == "max-age=5"
    behind = ask(make(Settings(is_tls_in_front=True)), "/enter")[2]
    assert behind["strict-transport-security"] == "max-age=31536000"


@pytest.mark.parametrize(
    ("take", "expected"),
    [
        (lambda: _bearer(Headers({})), ""),
        (lambda: _bearer(Headers({"authorization": "Bearer"})), ""),
        (lambda: _cookie(Headers({"cookie": "a=1"}), "b"), ""),
        (lambda: _cookie(Headers({"cookie": "a=1; b=2"}), "b"), "2"),
        (lambda: cookies(["a=1", "b=2"]), {"a": "1", "b": "2"}),
        (lambda: cookies(["a=1", "\x00]=2"]), {"a": "1"}),
    ],
)
def test_what_is_taken_from_headers(take: Callable[[], object], expected: object) -> None:
    assert take() == expected

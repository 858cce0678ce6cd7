"""What is refused before anything behind it runs, and the headers on every answer.

Sources: RFC 9110 (Host, 421, 405, 413, 415), Fetch standard (Origin, Sec-Fetch-Site), W3C
Content Security Policy 3; which of them a kiosk needs is common practice (OWASP ASVS 4, from
memory).
"""

from __future__ import annotations

import asyncio
import json
import random

import pytest
from starlette.testclient import TestClient
from starlette.types import Message, Receive, Scope, Send

from pairing.kiosk import Settings, create_app, pictures
from pairing.kiosk.guard import CONTENT_POLICY, Guard, _hostname
from pairing.kiosk.limits import Buckets
from pairing.kiosk.secret import Checked
from pairing.ledger import Ledger
from tests.kiosk.making import CARD, LABEL, PAGE, PIN, SECRETS

OFFER = {"scans": [LABEL, CARD], "box": LABEL, "record": True, "key": "one"}


@pytest.mark.parametrize(
    "host", ["127.0.0.1", "127.0.0.1:8737", "localhost:1", "[::1]:8737", "127.9.9.9", "LocalHost"]
)
def test_this_machine_by_its_own_names(client: TestClient, host: str) -> None:
    assert client.get("/v1/hello", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        *("evil.example", "127.0.0.1.evil.example", "localhost.evil.example", "192.0.2.7", ""),
        *("127.0.0.1:80:80", "[::1", "[::1]x", "127.0.0.1@evil.example", "a b"),
    ],
)
def test_no_other_name_so_that_no_name_server_can_lend_it_one(
    client: TestClient, host: str
) -> None:
    answer = client.get("/v1/hello", headers={"host": host})
    assert (answer.status_code, answer.json()["error"]["code"]) == (421, "host")


@pytest.mark.parametrize(
    ("host", "name"), [("a:1", "a"), ("[::1]:1", "::1"), ("a:b", ""), ("A", "a"), ("[::1]1", "::1")]
)
def test_names_in_host_headers(host: str, name: str) -> None:
    assert _hostname(host) == name


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_methods_that_are_not_served(client: TestClient, method: str) -> None:
    answer = client.request(method, "/v1/pieces")
    assert answer.status_code == 405
    assert "access-control-allow-origin" not in answer.headers


def test_another_sites_page_posts_nothing(client: TestClient, ledger: Ledger) -> None:
    for headers in (
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:1"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ):
        answer = client.post("/v1/pieces", json=OFFER, headers=headers)
        assert (answer.status_code, answer.json()["error"]["code"]) == (403, "origin")
    assert ledger.size() == 0
    # "none": the user began it, from an address typed in, say (Fetch Metadata, Sec-Fetch-Site).
    begun = client.post("/v1/pieces", json=OFFER, headers={"sec-fetch-site": "none"})
    assert begun.json()["may_seal"]
    assert client.post("/v1/pieces", json=OFFER).json()["may_seal"]


@pytest.mark.parametrize("path", ["/kiosk/begin", "/kiosk/entry", "/operator/open", "/enter"])
def test_the_pages_own_posts_need_origin_and_mark(client: TestClient, path: str) -> None:
    for headers in ({}, {"origin": PAGE["origin"]}, {"x-counterfoil": "page"}):
        answer = client.post(path, json={}, headers=headers)
        told = answer.json()["error"]
        assert (answer.status_code, told["code"]) == (403, "page")
        assert told["action"] == "Other software uses /v1."


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", ""])
def test_what_a_form_can_send_is_not_taken(client: TestClient, kind: str) -> None:
    """Forms of other sites need no permission to send these three (Fetch standard)."""
    answer = client.post("/v1/pieces", content=json.dumps(OFFER), headers={"content-type": kind})
    assert answer.status_code == 415


def test_guessing_the_pin_is_slowed(client: TestClient) -> None:
    codes = [
        client.post("/operator/open", json={"pin": "0"}, headers=PAGE).status_code for _ in range(7)
    ]
    assert codes == [403] * 5 + [429] * 2
    assert client.post("/operator/open", json={"pin": PIN}, headers=PAGE).status_code == 429


def test_guesses_by_others_do_not_lock_out_a_browser_that_knew_the_pin(
    client: TestClient,
) -> None:
    """Behind a proxy all have one address: five wrong PINs locked everybody out."""
    right = client.post("/operator/open", json={"pin": PIN}, headers=PAGE)
    assert right.status_code == 200
    cookie = right.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    client.cookies.clear()
    codes = [
        client.post("/operator/open", json={"pin": "0"}, headers=PAGE).status_code for _ in range(6)
    ]
    assert codes[-1] == 429
    own = {**PAGE, "cookie": cookie.partition(";")[0]}
    assert client.post("/operator/open", json={"pin": PIN}, headers=own).status_code == 200
    forged = {**PAGE, "cookie": "counterfoil_browser=guessed"}
    assert client.post("/operator/open", json={"pin": PIN}, headers=forged).status_code == 429
    guesses = [
        client.post("/operator/open", json={"pin": "0"}, headers=own).status_code for _ in range(6)
    ]
    assert guesses[-1] == 429


def test_too_many_requests(ledger: Ledger) -> None:
    settings = Settings(per_s=0.001, burst=3)
    app = create_app(ledger, settings=settings, secrets=SECRETS)
    with TestClient(app, base_url="http://127.0.0.1") as client:
        statuses = [client.get("/v1/hello").status_code for _ in range(5)]
    assert statuses == [200, 200, 200, 429, 429]


def test_pictures_in_memory_are_counted_before_they_arrive(
    ledger: Ledger, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each may have 25 MB; hundreds at once must not fill the memory."""
    monkeypatch.setattr(pictures, "MOST_ARRIVING", 0)
    names = {"x-counterfoil-session": "s" * 20, "x-counterfoil-key": "k" * 20}
    app = create_app(ledger, settings=Settings(), secrets=SECRETS)
    with TestClient(app, base_url="http://127.0.0.1") as client:
        for path in ("/v1/photos", "/kiosk/frame"):
            headers = {**PAGE, **names, "content-type": "image/jpeg"}
            answer = client.post(path, content=b"x" * 100, headers=headers)
            assert (answer.status_code, answer.json()["error"]["code"]) == (503, "busy")


@pytest.mark.parametrize("length", ["9" * 5000, "\xb2", "-1", "1.0"])
def test_a_length_that_is_none(client: TestClient, length: str) -> None:
    headers = {"content-type": "application/json", "content-length": length.encode("latin-1")}
    answer = client.post("/v1/pieces", content=b"{}", headers=headers)
    assert answer.status_code == 400


def test_buckets_fill_with_time_and_forget_quiet_clients() -> None:
    now = [0.0]
    buckets = Buckets(per_s=2, burst=4, clock=lambda: now[0])
    assert [buckets.take("a") for _ in range(5)] == [True] * 4 + [False]
    assert buckets.take("b")
    assert buckets.wait_s("a") == 0.5
    now[0] = 0.5
    assert [buckets.take("a"), buckets.take("a")] == [True, False]
    for client in range(10_000):
        buckets.take(str(client))
    assert len(buckets._left) <= 4_096


def test_headers_on_every_answer(client: TestClient) -> None:
    for path in ("/", "/nothing-here", "/v1/hello", "/page/look.css"):
        headers = client.get(path).headers
        assert headers["content-security-policy"] == CONTENT_POLICY
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cross-origin-resource-policy"] == "same-origin"
    assert client.get("/v1/hello", headers={"host": "evil.example"}).headers["x-frame-options"]
    assert "unsafe" not in CONTENT_POLICY


def test_files_outside_the_package_are_not_served(client: TestClient) -> None:
    for path in ("/page/../settings.py", "/page/..%2fsettings.py", "/page/%2e%2e/app.py",
                 "/texts/../openapi.json", "/texts/xx.json", "/page/", "/.env"):  # fmt: skip
        assert client.get(path).status_code == 404, path


def test_what_went_wrong_inside_stays_inside(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("a secret of the inside")

    monkeypatch.setattr("pairing.kiosk.api._number", broken)
    answer = client.get("/v1/numbers/1")
    assert answer.status_code == 500
    assert "secret" not in answer.text
    assert "Traceback" not in answer.text
    assert answer.json()["error"]["code"] == "inside"


START: Message = {"type": "http.response.start", "status": 200, "headers": []}


@pytest.mark.parametrize(
    ("before", "sent"),
    [([], ["http.response.start", "http.response.body"]), ([START], ["http.response.start"])],
)
def test_a_failure_is_answered_where_no_answer_has_begun(
    before: list[Message], sent: list[str]
) -> None:
    """ASGI (HTTP, "Response Start"): it is sent once."""

    async def broken(_scope: Scope, _receive: Receive, send: Send) -> None:
        for message in before:
            await send(message)
        raise RuntimeError("inside")

    async def receive() -> Message:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: Message) -> None:
        messages.append(message)

    messages: list[Message] = []
    guard = Guard(broken, settings=Settings(), token=Checked(SECRETS.token))
    scope = {"type": "http", "method": "GET", "path": "/", "headers": [(b"host", b"localhost")]}
    asyncio.run(guard(scope, receive, send))
    assert [one["type"] for one in messages] == sent
    assert messages[0]["status"] == (200 if before else 500)
    assert (b"x-frame-options", b"DENY") in messages[0]["headers"]


HOSTILE = 300


def hostile(seed: int) -> tuple[str, str, dict[str, str], bytes]:
    """One hostile request: method, path, headers, body."""
    dice = random.Random(seed)
    good = json.dumps({**OFFER, "key": str(seed)}).encode()
    junk = dice.randbytes(dice.randrange(0, 400))
    bodies = [good, junk, good[: dice.randrange(1, len(good))], b"[" * 20_000, b"x" * 40_000,
              b'{"scans": 1}', b'{"scans": ["' + b"9" * 30_000 + b'"]}', b"\xff\xfe",
              b'{"record": true, "scans": ["\\ud800"], "key": "k"}', b"NaN", b"null"]  # fmt: skip
    headers = {"content-type": dice.choice(["application/json", "text/plain", "image/jpeg"])}
    fault = dice.choice(["host", "origin", "site", "body", "path", "method"])
    body = good
    path, method = dice.choice(["/v1/pieces", "/kiosk/entry", "/kiosk/begin"]), "POST"
    if fault == "host":
        headers["host"] = dice.choice(["evil.example", "127.0.0.1.evil.example", "x" * 300])
    elif fault == "origin":
        headers["origin"] = dice.choice(["http://evil.example", "null", "file://"])
    elif fault == "site":
        headers["sec-fetch-site"] = "cross-site"
    elif fault == "body":
        body = dice.choice(bodies[1:])
    elif fault == "path":
        path = dice.choice(
            ["/v1/photos", "/v1/numbers/%00", "/v2/pieces", "/v1/pieces/..", "/enter"]
        )
    else:
        method = dice.choice(["PUT", "DELETE", "PATCH", "OPTIONS", "GET", "HEAD"])
    return method, path, headers, body


def test_hostile_requests_change_nothing(client: TestClient, ledger: Ledger) -> None:
    """The thousands are sent by `python -m tests.benchmarks.kiosk hostile`."""
    assert client.post("/v1/pieces", json=OFFER).json()["may_seal"]
    before = list(ledger.export_lines())
    for seed in range(HOSTILE):
        method, path, headers, body = hostile(seed)
        answer = client.request(method, path, headers=headers, content=body)
        assert answer.status_code < 500 or answer.status_code == 503, (seed, answer.text)
        assert "Traceback" not in answer.text
        if answer.status_code == 200:
            assert path == "/v1/photos" or method in ("GET", "HEAD"), (seed, answer.text)
    assert list(ledger.export_lines()) == before
    assert ledger.verify().is_clean

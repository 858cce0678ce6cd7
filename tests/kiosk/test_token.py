"""Who gets in with the access token and who does not, where other machines reach the kiosk.

Sources: RFC 6750 (bearer tokens), RFC 6265 (cookies); that it is a kiosk's due is common practice
(OWASP ASVS 4, from memory).
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from pairing.kiosk import Settings, create_app
from pairing.kiosk.guard import ACCESS_COOKIE
from pairing.ledger import Ledger
from tests.kiosk.making import CARD, LABEL, PAGE, SECRETS, TOKEN

OFFER = {"scans": [LABEL, CARD], "box": LABEL, "record": True, "key": "one"}


@pytest.fixture
def open_client(ledger: Ledger) -> Iterator[TestClient]:
    """The service as other machines reach it."""
    settings = Settings(host="0.0.0.0", names=("kiosk.example",))
    app = create_app(ledger, settings=settings, secrets=SECRETS)
    with TestClient(app, base_url="http://192.0.2.7:8737", raise_server_exceptions=False) as opened:
        yield opened


def test_other_machines_need_the_token(open_client: TestClient) -> None:
    assert open_client.get("/").status_code == 401
    assert open_client.get("/v1/hello").status_code == 401
    assert open_client.get("/operator").status_code == 401
    shown = open_client.get("/", headers={"accept": "text/html"}, follow_redirects=False)
    assert (shown.status_code, shown.headers["location"]) == (303, "/enter")
    assert open_client.get("/enter").status_code == 200
    assert open_client.get("/page/enter.js").status_code == 200
    assert open_client.post("/v1/pieces", json=OFFER).status_code == 401
    with_it = {"authorization": f"Bearer {TOKEN}"}
    assert open_client.get("/v1/hello", headers=with_it).status_code == 200
    assert open_client.post("/v1/pieces", json=OFFER, headers=with_it).json()["may_seal"]


@pytest.mark.parametrize(
    "settings", [Settings(is_tls_in_front=True), Settings(names=("kiosk.example",))], ids=str
)
def test_a_proxy_on_this_machine_lets_nobody_in_without_the_token(
    ledger: Ledger, settings: Settings
) -> None:
    app = create_app(ledger, settings=settings, secrets=SECRETS)
    with TestClient(app, base_url="http://127.0.0.1") as client:
        assert client.get("/v1/hello").status_code == 401
        with_it = {"authorization": f"Bearer {TOKEN}"}
        assert client.get("/v1/hello", headers=with_it).status_code == 200


def test_names_and_addresses_of_an_open_kiosk(open_client: TestClient) -> None:
    for host, status in (("kiosk.example", 401), ("10.0.0.1:8737", 401), ("evil.example", 421)):
        assert open_client.get("/", headers={"host": host}).status_code == status


def test_the_token_is_remembered_where_scripts_do_not_see_it(open_client: TestClient) -> None:
    page = {**PAGE, "origin": "http://192.0.2.7:8737"}
    assert open_client.post("/enter", json={"token": "no"}, headers=page).status_code == 403
    answer = open_client.post("/enter", json={"token": TOKEN}, headers=page)
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert "secure" not in cookie  # there is no TLS in front here
    assert answer.status_code == 200
    assert open_client.get("/").status_code == 200
    open_client.cookies.clear()
    assert open_client.get("/").status_code == 401
    other = {"cookie": f"another={TOKEN}"}
    assert open_client.get("/", headers=other).status_code == 401


def test_a_damaged_cookie_is_none(open_client: TestClient) -> None:
    """No name of a cookie has a bracket or a comma in it (RFC 6265, section 4.1.1)."""
    for damaged in ("(=1", f"{ACCESS_COOKIE}={TOKEN}; a,b=1", "a=b; $x=1"):
        answer = open_client.get("/v1/hello", headers={"cookie": damaged})
        assert (answer.status_code, answer.json()["error"]["code"]) == (401, "token")


def test_guessing_the_token_is_slowed(open_client: TestClient) -> None:
    wrong = {"authorization": "Bearer wrong"}
    statuses = [open_client.get("/v1/hello", headers=wrong).status_code for _ in range(8)]
    assert statuses[:5] == [401] * 5
    assert statuses[-1] == 429

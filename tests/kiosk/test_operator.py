"""What the operator sees, and who may see it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from starlette.testclient import TestClient

from pairing.kiosk import Settings, create_app, dayview, operators, pin
from pairing.kiosk.dayview import OutstandingCards
from pairing.ledger import Draft, Kind, Ledger
from tests.kiosk.making import CARD, LABEL, PAGE, PIN, SECRETS, copied_pieces, pair
from tests.kiosk.paging import Page
from tests.ledger.making import label as numbers_of
from tests.ledger.making import pair as accepted


@pytest.fixture
def page(client: TestClient) -> Iterator[Page]:
    """An open page."""
    yield Page(client)


def test_the_operators_page_needs_the_pin(client: TestClient) -> None:
    assert client.get("/operator/day").status_code == 401
    assert client.post("/operator/open", json={"pin": "1"}, headers=PAGE).status_code == 403
    opened = client.post("/operator/open", json={"pin": PIN}, headers=PAGE).json()["pass"]
    own = {"x-counterfoil-pass": opened}
    assert client.get("/operator/day?days=7", headers=own).status_code == 200
    assert client.get("/operator/day?days=8", headers=own).status_code == 400
    client.post("/operator/close", json={}, headers={**PAGE, **own})
    assert client.get("/operator/day", headers=own).status_code == 401


def test_a_page_that_only_asks_again_keeps_nobody_logged_in(
    ledger: Ledger, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = [1_000.0]
    monkeypatch.setattr(operators, "Passes", lambda: pin.Passes(lambda: now[0]))
    app = create_app(ledger, settings=Settings(), secrets=SECRETS)
    with TestClient(app, base_url="http://127.0.0.1") as client:

        def statuses(**more: str) -> list[int]:
            opened = client.post("/operator/open", json={"pin": PIN}, headers=PAGE).json()["pass"]
            own = {"x-counterfoil-pass": opened, **more}
            found = []
            for _ in range(3):
                now[0] += 0.4 * pin.PASS_S
                found.append(client.get("/operator/day", headers=own).status_code)
            return found

        assert statuses() == [200, 200, 200]  # somebody is at it
        assert statuses(**{"x-counterfoil-poll": "1"}) == [200, 200, 401]


def test_what_the_operator_sees(page: Page, ledger: Ledger) -> None:
    rows = {row["piece"]: row for row in copied_pieces()}
    for name in ("0008", "0013", "0015", "0026"):
        page.enter("scan", rows[name]["article"])
        page.enter("scan", rows[name]["card"])
        page.enter("box", rows[name]["box"])
    left = pair(31)
    page.enter("scan", left[0])
    page.enter("next")
    seen = dayview.overview(
        ledger, now=datetime.now(UTC), days=7, in_hand=2, cards=OutstandingCards()
    )
    assert [seen["today"][name] for name in ("sealed", "stopped", "looked")] == [1, 3, 1]
    kinds = {one["code"]: one["count"] for one in seen["errors"]["kinds"]}
    assert kinds == {"box-one-digit": 1, "box-adjacent-swap": 1, "box-card-own": 1}
    (places,) = seen["errors"]["places"]
    # 0013 has digit 19 wrong, 0015 digits 17 and 18 swapped (sample_scans/manifest.csv).
    wrong = [index for index, count in enumerate(places["counts"], 1) if count]
    assert wrong == [17, 18, 19]
    stopped = [left[0], *(rows[name]["article"] for name in ("0026", "0015", "0013"))]
    assert [one["article"].replace(" ", "") for one in seen["unfinished"]["pieces"]] == stopped
    assert [one["entry"] for one in seen["unfinished"]["pieces"]] == [5, 4, 3, 2]
    assert seen["unfinished"]["in_hand"] == 2
    assert seen["outstanding"]["count"] == 1


def test_what_was_looked_at_again_and_sealed_is_not_unfinished(page: Page, ledger: Ledger) -> None:
    page.enter("scan", LABEL)
    page.enter("next")
    page.enter("scan", LABEL)
    page.enter("scan", CARD)
    page.enter("box", LABEL)
    seen = dayview.overview(
        ledger, now=datetime.now(UTC), days=1, in_hand=0, cards=OutstandingCards()
    )
    assert seen["unfinished"]["pieces"] == []
    assert seen["today"]["looked"] == 1


def test_outstanding_cards_oldest_first_and_cut(ledger: Ledger) -> None:
    for number in range(dayview.MOST_SHOWN + 5):
        ledger.append(accepted(number, number))
    ledger.append(Draft(kind=Kind.VOIDED, desk="d", operator="o", refers=1, remark="slip"))
    now = [0.0]
    cards = OutstandingCards(ticks=lambda: now[0])
    later = datetime.now(UTC) + timedelta(days=3)
    found = cards.shown(ledger, later)
    assert (found["count"], found["left_out"]) == (dayview.MOST_SHOWN + 4, 4)
    assert {one["days"] for one in found["pieces"]} == {3}
    ledger.append(accepted(500, 500))
    assert cards.shown(ledger, later) is found
    now[0] = dayview.OUTSTANDING_FOR_S
    assert cards.shown(ledger, later)["count"] == found["count"] + 1


def test_the_operator_finds_a_piece_by_its_name(client: TestClient, ledger: Ledger) -> None:
    ledger.append(accepted(1, 1, particulars={"name": "Adaline Orrick", "reference": "CV-417"}))
    sought = {"text": "orrick"}
    assert client.post("/operator/find", json=sought, headers=PAGE).status_code == 401
    opened = client.post("/operator/open", json={"pin": PIN}, headers=PAGE).json()["pass"]
    own = {**PAGE, "x-counterfoil-pass": opened}
    (hit,) = client.post("/operator/find", json=sought, headers=own).json()["hits"]
    assert (hit["state"], hit["about"]) == ("open", "Adaline Orrick; reference CV-417")
    assert hit["article"].replace(" ", "") == numbers_of(1)
    none = client.post("/operator/find", json={"text": "nobody"}, headers=own).json()
    assert none == {"is_cut": False, "hits": []}
    assert client.post("/operator/find", json={"text": "x" * 201}, headers=own).status_code == 400

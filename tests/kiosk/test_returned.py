"""Cards that came back, taken on the operator's page. What a card has to show to be in order
(signature, date, the right number) is the desk's rule (`desk.returns`), tested in
tests/desk/test_signed.py; here it goes over the wire and through a browser."""

from __future__ import annotations

from typing import Any

import pytest
from starlette.testclient import TestClient

from pairing.ledger import Kind, Ledger, State
from tests.kiosk.conftest import Hosted
from tests.kiosk.driving import Browser
from tests.kiosk.looking import holds
from tests.kiosk.making import PAGE, PIN
from tests.ledger.making import card, label, pair


@pytest.fixture
def own(client: TestClient) -> dict[str, str]:
    """Headers of whoever gave the PIN."""
    opened = client.post("/operator/open", json={"pin": PIN}, headers=PAGE).json()["pass"]
    return {**PAGE, "x-counterfoil-pass": opened}


def _codes(answer: dict[str, Any]) -> set[str]:
    return {one["code"] for one in answer["findings"]}


def _day(ledger: Ledger) -> str:
    """The desk's day on which the first piece was sealed."""
    entry = ledger.entry(1)
    assert entry is not None
    return entry.when.astimezone().date().isoformat()


def test_a_returned_day_over_the_wire(
    client: TestClient, ledger: Ledger, own: dict[str, str]
) -> None:
    for number in (1, 2, 3):
        ledger.append(pair(number, number, particulars={"name": f"Addressee {number}"}))
    signed = {"is_signed": True, "signed": _day(ledger)}

    def back(number: int, box: int, **said: Any) -> dict[str, Any]:
        body = {"card": card(number), "box": label(box), **said}
        answer = client.post("/operator/returned", json=body, headers=own)
        assert answer.status_code == 200, answer.text
        return dict(answer.json())

    assert back(1, 1, **signed)["about"] == "Addressee 1"
    unsaid = back(2, 2)
    assert (unsaid["verdict"], _codes(unsaid)) == ("unread", {"signature-unsaid", "card-keyed"})
    assert "card-unsigned" in _codes(back(2, 2, is_signed=False))
    slip = back(3, 2, **signed)
    assert slip["verdict"] == "differs"
    right = back(3, 3, **signed, name="M. Ferrand")
    assert (right["verdict"], _codes(right)) == ("agrees", {"return-corrected", "card-keyed"})
    assert "return-unknown" in _codes(back(9, 9, **signed))
    assert {one.card: one.state for one in ledger.pieces()}[card(3)] is State.RETURNED
    assert len(list(ledger.entries(kinds=[Kind.VOIDED]))) == 1
    assert [hit.card for hit in ledger.find("Ferrand")] == [card(3)]
    assert ledger.verify().is_clean


def test_what_is_no_card_is_not_recorded(
    client: TestClient, ledger: Ledger, own: dict[str, str]
) -> None:
    before = len(list(ledger.entries()))
    nothing = client.post("/operator/returned", json={"card": "  "}, headers=own).json()
    assert (nothing["verdict"], nothing["entry"]) == ("unread", None)
    wrong = {"card": card(1), "signed": "yesterday"}
    assert client.post("/operator/returned", json=wrong, headers=own).status_code == 400
    assert (
        client.post("/operator/returned", json={"card": card(1)}, headers=PAGE).status_code == 401
    )
    assert len(list(ledger.entries())) == before


def test_a_returned_card_in_the_browser(browser: Browser, service: Hosted, ledger: Ledger) -> None:
    ledger.append(pair(1, 1, particulars={"name": "Adaline Orrick"}))
    tab = browser.open(f"{service.address}operator")
    tab.run(tab.page.fill("#pin", PIN))
    tab.run(tab.page.keyboard.press("Enter"))
    tab.run(tab.page.wait_for_selector("#sheets section"))

    def give(box: str, signed: str, date: str = "") -> str:
        tab.run(tab.page.fill("#returned-card", card(1)))
        tab.run(tab.page.fill("#returned-box", box))
        tab.run(tab.page.select_option("#returned-signed", signed))
        tab.run(tab.page.fill("#returned-date", date))
        tab.run(tab.page.evaluate("document.querySelector('#returned-said').replaceChildren()"))
        tab.run(tab.page.press("#returned-box", "Enter"))
        tab.run(tab.page.wait_for_selector("#returned-said .word"))
        return tab.text("#returned-said")

    day = _day(ledger)
    assert "It contradicts the record" in give(label(2), "yes", day)
    holds(tab, "a returned card that differs")
    shown = give(label(1), "yes", day)
    assert "In order" in shown
    assert "The slip before was put right." in shown
    assert "Adaline Orrick" in shown
    tab.run(tab.page.wait_for_function("document.querySelector('#returned-card').value === ''"))
    tab.close()

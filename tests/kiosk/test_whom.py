"""For whom and why a piece is, said at the kiosk (what a firm mailer's list asks for:
`shared/forms.md`, Guide to Firm Mailers): kept beside the right entry, and shown to nobody.
"""

from __future__ import annotations

from typing import Any

import pytest
from starlette.testclient import TestClient

from pairing.desk.for_whom import Asked
from pairing.kiosk import Settings, create_app
from pairing.ledger import Kind, Ledger
from tests.desk.test_piece_kind import PARCEL_SELECT
from tests.kiosk.conftest import Hosted
from tests.kiosk.driving import Browser, Tab
from tests.kiosk.looking import holds
from tests.kiosk.making import CARD, LABEL, PAGE, SECRETS, pair
from tests.kiosk.paging import Page

ABOUT = {
    "name": "Adaline Orrick", "address": "7 Elm Lane, Quillhaven", "reference": "CV-417",
    "service": "return receipt", "fee": "8.65",
}  # fmt: skip


def tell(page: Page, key: str, about: dict[str, str], of: int | None = None) -> Any:
    body = {"session": page.session, "key": key, "about": about, "of": of}
    answer = page.post("/kiosk/about", body)
    assert answer.status_code == 200, answer.text
    return answer.json()


def codes(answer: Any) -> list[str]:
    return [one["code"] for one in answer["remarks"]]


def enter(page: Page, label: str, card: str) -> Any:
    page.enter("scan", label)
    page.enter("scan", card)
    return page.enter("box", label)


def test_said_of_the_piece_in_hand_it_goes_with_that_piece(
    client: TestClient, ledger: Ledger
) -> None:
    page = Page(client)
    page.enter("scan", LABEL)
    answer = tell(page, "k" * 16, ABOUT)
    assert codes(answer) == ["for-whom-taken"]
    assert "Orrick" not in str(answer)
    page.enter("scan", CARD)
    page.enter("box", LABEL)
    enter(page, *pair(11))
    first, other = ledger.entries(kinds=(Kind.PAIRED,))
    assert ledger.declared(article=first.article, card=first.card) == {}
    (hit,) = ledger.find("orrick")
    assert (hit.article, dict(hit.about)) == (LABEL, ABOUT)
    assert not other.commitment


def test_said_of_a_sealed_piece_it_goes_with_its_entry_once(
    client: TestClient, ledger: Ledger
) -> None:
    page = Page(client)
    enter(page, LABEL, CARD)
    for one in (page, page, Page(client)):  # sent again, and in another session after a restart
        assert codes(tell(one, "k" * 16, ABOUT, of=1)) == ["for-whom-added"]
    assert ledger.size() == 2
    (hit,) = ledger.find("orrick")
    assert hit.article == LABEL
    assert codes(tell(page, "n" * 16, ABOUT, of=77)) == ["no-entry"]


def test_a_label_is_no_reference(client: TestClient, ledger: Ledger) -> None:
    page = Page(client)
    page.enter("scan", LABEL)
    assert codes(tell(page, "k" * 16, {**ABOUT, "reference": LABEL})) == ["reference-is-number"]
    page.enter("scan", CARD)
    page.enter("box", LABEL)
    (entry,) = ledger.entries(kinds=(Kind.PAIRED,))
    assert not entry.commitment


@pytest.mark.parametrize(
    "body", [{"about": {"nonsense": "x"}}, {"about": {}, "of": 0}, {"about": {"fee": "1" * 5000}}]
)
def test_anything_else_is_refused(client: TestClient, body: dict[str, object]) -> None:
    page = Page(client)
    sent = {"session": page.session, "key": "k" * 16, **body}
    assert page.post("/kiosk/about", sent).status_code == 400


def test_the_page_asks_only_where_it_is_set_to(ledger: Ledger) -> None:
    for number, asked, before, after in (
        (21, Asked.NEVER, [], []),
        (22, Asked.BEFORE, ["for-whom"], []),
        (23, Asked.AFTER, [], ["for-whom-entry"]),
    ):
        app = create_app(ledger, settings=Settings(asked=asked), secrets=SECRETS)
        label, card = pair(number)
        with TestClient(app, base_url="http://127.0.0.1") as client:
            page = Page(client)
            assert codes(page.enter("scan", label)) == before
            page.enter("scan", card)
            assert codes(page.enter("box", label)) == after


def test_what_a_piece_is_is_asked_where_the_office_wants_it(ledger: Ledger) -> None:
    app = create_app(ledger, settings=Settings(asks_kind=True), secrets=SECRETS)
    with TestClient(app, base_url="http://127.0.0.1") as client:
        page = Page(client)
        assert client.get("/kiosk/place", headers=PAGE).json()["asks_kind"] is True
        assert codes(page.enter("scan", LABEL)) == ["piece-kind"]
        assert codes(tell(page, "k" * 16, {"piece": "thick"})) == ["piece-kind-how"]
        assert codes(tell(page, "l" * 16, {"piece": "parcel"})) == ["for-whom-taken"]
        page.enter("scan", CARD)
        page.enter("box", LABEL)
    assert ledger.about([1]) == {1: {"piece": "parcel"}}


def test_letter_flat_or_parcel_by_one_press(browser: Browser, ledger: Ledger) -> None:
    """For the piece in hand; or, where nobody did, for the one just sealed."""
    hosted = Hosted(ledger, Settings(asks_kind=True))
    tab = browser.open(hosted.address)
    (other, its_card) = pair(11)
    assert not tab.run(tab.page.is_visible("#kind"))
    tab.scan(LABEL)
    assert "Letter, flat or parcel?" in tab.text("#remarks")
    press(tab, "#kind-flat")
    assert not tab.run(tab.page.is_visible("#kind"))
    tab.scan(CARD)
    assert not tab.run(tab.page.is_visible("#kind"))
    tab.key_in(LABEL)
    tab.scan(other)
    tab.scan(its_card)
    holds(tab, "the box and the kind are asked")
    tab.key_in(other)
    assert tab.answer() == "seal"
    holds(tab, "seal, and its kind is asked")
    press(tab, "#kind-letter")
    assert tab.shown() == "seal"
    assert not tab.run(tab.page.is_visible("#kind"))
    tab.click("#do-whom")  # and put right in the form
    holds(tab, "the form with the kind")
    tab.run(tab.page.check("#whom-piece input[value=parcel]"))
    keep(tab)
    tab.scan(PARCEL_SELECT)
    press(tab, "#kind-letter")
    tab.scan(pair(12)[1])
    tab.key_in(PARCEL_SELECT)
    assert tab.answer() == "seal"
    assert "The label is for another kind of piece than this one." in tab.text("#answer")
    holds(tab, "seal, and a parcel's label on a letter")
    assert tab.errors == []
    tab.close()
    hosted.close()
    assert ledger.about([1, 2])[1] == {"piece": "flat"}
    (hit,) = ledger.find(other)
    assert dict(hit.about) == {"piece": "parcel"}
    assert ledger.verify().is_clean


def press(tab: Tab, selector: str) -> None:
    before = tab.entries()
    tab.click(selector)
    tab.settle(before)


def test_at_the_page(browser: Browser, service: Hosted) -> None:
    tab = browser.open(service.address)
    tab.scan(LABEL)
    tab.click("#do-whom")
    fill(tab, name=ABOUT["name"], fee="8.65")
    tab.pause()
    tab.send(tab.keys([*"CV-2026-00417", "Enter"], 0.008))  # from the letter's own barcode
    tab.wait(0.5)
    assert tab.run(tab.page.input_value("#whom-reference")) == "CV-2026-00417"
    keep(tab)
    assert "Kept for this piece." in tab.text("#remarks")
    assert tab.state("label") == "read"
    tab.scan(CARD)
    tab.key_in(LABEL)
    assert tab.answer() == "seal"
    tab.click("#do-whom")
    assert "entry 1" in tab.text("#todo")
    fill(tab, service="return receipt")
    keep(tab)
    assert tab.shown() == "seal"
    assert "Orrick" not in tab.run(tab.page.content())
    assert tab.errors == []
    tab.close()
    with service.ledger() as ledger:
        (hit,) = ledger.find("orrick")
        assert dict(hit.about) == {
            "name": ABOUT["name"], "fee": "8.65", "reference": "CV-2026-00417",
            "service": "return receipt",
        }  # fmt: skip


def fill(tab: Tab, **fields: str) -> None:
    for name, text in fields.items():
        tab.run(tab.page.fill(f"#whom-{name}", text))


def keep(tab: Tab) -> None:
    before = tab.entries()
    tab.click("#whom button[type=submit]")
    tab.settle(before)

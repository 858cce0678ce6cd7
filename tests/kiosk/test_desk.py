"""The page's side of the service: places, keys, blindness, and what the operator sees."""

from __future__ import annotations

import json
from typing import Any

import pytest
from starlette.testclient import TestClient

from pairing.desk.counter import Counter
from pairing.errors import LedgerUnusable
from pairing.kiosk import Settings, sessions
from pairing.kiosk.refusals import Refused
from pairing.kiosk.sessions import EntryKind, Sessions
from pairing.ledger import Kind, Ledger
from pairing.model import Verdict
from tests.kiosk.making import CARD, LABEL, PAGE, copied_pieces, pair
from tests.kiosk.paging import Page
from tests.ledger.making import label


@pytest.fixture
def page(client: TestClient) -> Page:
    """An open page."""
    return Page(client)


def test_a_whole_piece(page: Page, ledger: Ledger) -> None:
    assert page.enter("scan", LABEL)["missing"] == ["card", "box"]
    assert page.enter("scan", CARD)["missing"] == ["box"]
    (done,) = page.enter("box", LABEL)["finished"]
    assert (done["advice"], done["entry"], done["written_by"]) == ("seal", 1, "keyed")
    assert "".join(label for label, _ in done["columns"]) == LABEL
    entry = ledger.entry(1)
    assert entry is not None
    assert (entry.kind, entry.desk, entry.article) == (Kind.PAIRED, "desk 1", LABEL)


def test_no_digit_of_the_label_before_the_box_is_entered(client: TestClient) -> None:
    page = Page(client)
    told = [
        page.enter("scan", LABEL),
        page.enter("scan", CARD),
        page.enter("scan", LABEL[:-1] + "0"),
    ]
    told.append(page.enter("next"))
    assert told[-1]["finished"][0]["advice"] == "look"
    text = json.dumps(told)
    for start in range(len(LABEL) - 5):
        assert LABEL[start : start + 6] not in text


@pytest.mark.parametrize("row", copied_pieces(), ids=lambda row: row["piece"])
def test_every_kind_of_error_in_the_box(page: Page, row: dict[str, str]) -> None:
    """Answers: the sample set's manifest, column `verdict_when_read`, by its drawing."""
    page.enter("scan", row["article"])
    page.enter("scan", row["card"])
    (done,) = page.enter("box", row["box"])["finished"]
    asked = {"agrees": "seal", "differs": "stop"}[
        "agrees" if row["box"] == row["article"] else "differs"
    ]
    assert done["advice"] == asked
    if asked == "stop":
        assert any(one["weight"] == "clash" for one in done["findings"])


def test_the_same_entry_offered_again_counts_once(page: Page, ledger: Ledger) -> None:
    page.enter("scan", LABEL)
    page.enter("scan", CARD)
    first = page.enter("box", LABEL, key="one-key-for-the-box")
    again = page.enter("box", LABEL, key="one-key-for-the-box")
    assert first == again
    assert ledger.size() == 1


def test_a_key_never_gives_another_entrys_answer(page: Page, ledger: Ledger) -> None:
    """The answer to a piece that was sealed must not be taken for the next one's."""
    key = "one-key-for-the-box"
    page.enter("scan", LABEL)
    page.enter("scan", CARD)
    page.enter("box", LABEL, key=key)
    label, card = pair(2)
    page.enter("scan", label)
    page.enter("scan", card)
    for kind, text in (("box", label), ("box", card), ("scan", LABEL)):
        body = {"session": page.session, "kind": kind, "text": text, "key": key}
        answer = page.post("/kiosk/entry", body)
        assert answer.status_code == 409
        assert "finished" not in answer.json()
    assert ledger.size() == 1
    (done,) = page.enter("box", label)["finished"]
    assert (done["advice"], done["article"]) == ("seal", label)


def test_after_a_restart_all_entries_are_offered_again(client: TestClient, ledger: Ledger) -> None:
    keys = [f"lost-answer-number-{index}" for index in range(3)]

    def piece(page: Page) -> dict[str, Any]:
        page.enter("scan", LABEL, key=keys[0])
        page.enter("scan", CARD, key=keys[1])
        return dict(page.enter("box", LABEL, key=keys[2])["finished"][0])

    first, again = piece(Page(client)), piece(Page(client))
    assert (first["is_repeated"], again["is_repeated"]) == (False, True)
    assert (again["advice"], again["entry"]) == ("seal", first["entry"])
    assert ledger.size() == 1


def test_a_page_that_the_service_does_not_know(client: TestClient) -> None:
    page = Page(client)
    page.session = "a-name-that-nobody-gave"
    answer = page.post(
        "/kiosk/entry",
        {"session": page.session, "kind": "scan", "text": LABEL, "key": "some-key-of-some-entry"},
    )
    assert (answer.status_code, answer.json()["error"]["code"]) == (409, "session")


def test_nothing_is_sealed_that_the_ledger_does_not_take(
    client: TestClient, ledger: Ledger, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = Page(client)
    page.enter("scan", LABEL)
    page.enter("scan", CARD)

    def full(*_: object) -> None:
        raise LedgerUnusable("The disk is full", where="ledger", remedy="Make room.")

    with monkeypatch.context() as patched:
        patched.setattr(ledger, "append", full)
        (done,) = page.enter("box", LABEL, key="the-box-of-this-piece")["finished"]
    assert (done["advice"], done["entry"]) == ("lost", None)
    (done,) = page.enter("box", LABEL, key="the-box-of-this-piece")["finished"]
    assert (done["advice"], done["entry"]) == ("seal", 1)
    assert ledger.size() == 1


def test_two_pages_have_a_piece_each(client: TestClient, ledger: Ledger) -> None:
    one, other = Page(client), Page(client)
    second = pair(7)
    one.enter("scan", LABEL)
    other.enter("scan", second[0])
    one.enter("scan", CARD)
    other.enter("scan", second[1])
    assert one.enter("box", LABEL)["finished"][0]["advice"] == "seal"
    assert other.enter("box", second[0])["finished"][0]["advice"] == "seal"
    assert ledger.size() == 2


def test_the_same_piece_on_two_pages_is_accepted_once(client: TestClient, ledger: Ledger) -> None:
    pages = [Page(client), Page(client)]
    for page in pages:
        page.enter("scan", LABEL)
        page.enter("scan", CARD)
    advice = [page.enter("box", LABEL)["finished"][0]["advice"] for page in pages]
    assert advice == ["seal", "done"]
    assert len(list(ledger.pieces())) == 1


def test_a_scanned_word_is_no_word(page: Page, ledger: Ledger) -> None:
    page.enter("scan", LABEL)
    page.enter("scan", CARD)
    for text in (f"box {LABEL}", "next", f"strip {LABEL}", "void 1 no"):
        assert page.enter("scan", text)["finished"] == []
    assert ledger.size() == 0


def test_the_strip_is_announced_and_can_be_taken_back(page: Page) -> None:
    too_early = page.enter("strip")
    assert not too_early["strip_next"]
    assert [one["code"] for one in too_early["remarks"]] == ["strip-too-early"]
    page.enter("scan", LABEL)
    page.enter("scan", LABEL)
    page.enter("scan", CARD)
    assert page.enter("strip")["strip_next"]
    assert not page.enter("strip")["strip_next"]
    assert page.enter("strip")["strip_next"]
    assert page.enter("scan", LABEL)["finished"][0]["written_by"] == "barcode"


def test_keyed_label_and_card_are_marked_as_keyed(page: Page, ledger: Ledger) -> None:
    page.enter("label", LABEL)
    page.enter("card", CARD)
    (done,) = page.enter("box", LABEL)["finished"]
    assert {"label-keyed", "card-keyed"} <= {one["code"] for one in done["findings"]}
    entry = ledger.entry(1)
    assert entry is not None
    assert {one.via.value for one in entry.readings} == {"keyed"}


def test_an_international_piece_may_lack_a_card_number(page: Page) -> None:
    answer = page.enter("scan", "RR519204375US")
    assert answer["may_lack_card"]
    page.enter("box", "RR 519 204 375 US")
    assert page.enter("next")["finished"][0]["advice"] == "seal"


def test_a_page_that_leaves_with_a_piece_in_hand(page: Page, ledger: Ledger) -> None:
    page.enter("scan", LABEL)
    assert page.post("/kiosk/leave", {"session": page.session}).json() == {"is_left": True}
    entry = ledger.entry(1)
    assert entry is not None
    assert (entry.kind, entry.verdict) == (Kind.STOPPED, Verdict.UNREAD)


@pytest.mark.parametrize(("waited_ms", "advice"), [(60_000, "look"), (0, "seal")])
def test_what_waited_for_the_service_is_not_sealed_after_a_stop_elsewhere(
    client: TestClient, ledger: Ledger, waited_ms: int, advice: str
) -> None:
    """A page whose service was started anew offers its piece again. Read anew, it seals."""
    second = Counter(ledger, desk="desk 2", operator="p")
    for line in (LABEL, CARD, f"box {label(5)}"):
        second.take(line)
    page = Page(client)
    begun = page.post("/kiosk/begin", {"instead": page.session, "waited_ms": waited_ms})
    page.session = begun.json()["session"]
    page.enter("scan", LABEL)
    page.enter("scan", CARD)
    (piece,) = page.enter("box", LABEL)["finished"]
    assert piece["advice"] == advice


def test_places_are_bounded_and_forgotten(ledger: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sessions, "MOST_PLACES", 3)
    now = [0.0]
    made = Sessions(ledger, Settings(), ticks=lambda: now[0])
    names = [made.begin() for _ in range(5)]
    with pytest.raises(Refused):
        made.enter(names[0], EntryKind.SCAN, LABEL, "key")
    made.enter(names[4], EntryKind.SCAN, LABEL, "key")
    assert made.in_hand == 1
    now[0] = sessions.FORGOTTEN_AFTER_S + 1
    made.begin()
    assert made.in_hand == 0
    fresh = made.begin()
    assert made.begin(instead=fresh)
    with pytest.raises(Refused):
        made.enter(fresh, EntryKind.SCAN, LABEL, "key")


@pytest.mark.parametrize(
    "change",
    [
        *({"kind": "void"}, {"kind": None}, {"text": 5}, {"text": "x" * 5_000}, {"key": "short"}),
        *({"session": ["a"]}, {"extra": 1}, {"text": "\ud800"}, {"key": None}),
    ],
    ids=str,
)
def test_malformed_entries(client: TestClient, change: dict[str, Any]) -> None:
    page = Page(client)
    good = {"session": page.session, "kind": "scan", "text": LABEL, "key": "a-key-that-is-long"}
    answer = client.post(
        "/kiosk/entry",
        content=json.dumps({**good, **change}),
        headers={**PAGE, "content-type": "application/json"},
    )
    assert (answer.status_code, answer.json()["error"]["code"]) == (400, "malformed")

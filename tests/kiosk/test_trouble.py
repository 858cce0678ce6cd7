"""What the page says when the service is slow, cut off, killed or started again: never "Seal"
before the entry is durable, and never an entry twice."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from pairing.errors import LedgerUnusable
from pairing.ledger import Kind, Ledger
from tests.kiosk.conftest import Hosted, Service
from tests.kiosk.driving import SCANNER_S, Browser, Tab
from tests.kiosk.making import CARD, LABEL, pair


@pytest.fixture
def tab(browser: Browser, service: Hosted) -> Iterator[Tab]:
    """The kiosk's page."""
    opened = browser.open(service.address)
    yield opened
    opened.close()


def kinds(ledger: Ledger) -> list[Kind]:
    """What the ledger has, in order."""
    return [entry.kind for entry in ledger.entries()]


def begin(tab: Tab) -> None:
    """Label and card are scanned; the box is still to come."""
    for side, number in (("label", LABEL), ("card", CARD)):
        tab.scan(number)
        if tab.state(side) != "read":
            tab.scan(number)  # a busy machine cut it short: scanned again, as a clerk would
    assert tab.state("box") == "asked"


def test_the_service_is_killed_and_started_again(
    browser: Browser, make_service: Callable[..., Service]
) -> None:
    service = make_service()
    tab = browser.open(service.address)
    begin(tab)
    service.kill()
    tab.type(LABEL)
    tab.run(tab.page.keyboard.press("Enter"))
    tab.until("lost")
    assert "Not recorded" in tab.text("#answer")
    tab.scan(LABEL, "")  # as the page asks
    assert tab.shown() == "lost"
    service.start()
    tab.until("seal", 20)
    tab.settle()
    assert tab.shown() == "seal"
    with service.ledger() as ledger:
        assert kinds(ledger) == [Kind.PAIRED]
    other = pair(3)
    tab.scan(other[0])
    tab.scan(other[1])
    tab.key_in(other[0])
    assert tab.answer() == "seal"
    tab.close()


def test_an_answer_lost_on_its_way_back(tab: Tab, service: Hosted) -> None:
    """The entry was recorded, its answer never came: rescanned, it counts once."""
    begin(tab)
    cut = [True]

    async def lose(route: Any) -> None:
        if cut[0]:
            if route.request.url.endswith("/entry"):
                await route.fetch()
            await route.abort()
        else:
            await route.continue_()

    tab.run(tab.page.route("**/kiosk/**", lose))
    tab.type(LABEL)
    tab.run(tab.page.keyboard.press("Enter"))
    tab.until("lost")
    assert kinds(service.kept) == [Kind.PAIRED]
    tab.scan(CARD, "")  # the piece is scanned again, in another order
    tab.scan(LABEL, "")
    assert tab.shown() == "lost"
    cut[0] = False
    tab.until("seal")
    tab.settle()
    assert "already recorded" in tab.text("#answer")
    assert tab.shown() == "seal"
    assert kinds(service.kept) == [Kind.PAIRED]


def test_another_piece_scanned_while_cut_off(tab: Tab, service: Hosted) -> None:
    """Its scans wait, and are no part of the piece whose answer was lost."""
    begin(tab)
    cut = [True]

    async def lose(route: Any) -> None:
        await (route.abort() if cut[0] else route.continue_())

    tab.run(tab.page.route("**/kiosk/**", lose))
    tab.type(LABEL)
    tab.run(tab.page.keyboard.press("Enter"))
    tab.until("lost")
    other = pair(5)
    tab.scan(other[0], "")
    cut[0] = False
    tab.run(tab.page.wait_for_selector("#slot-card[data-state=wanted]"))
    tab.settle()
    assert tab.state("label") == "read"
    assert tab.shown() == "none"
    assert "The piece before this one: Seal." in tab.text("#remarks")
    tab.scan(other[1])
    tab.key_in(other[0])
    assert tab.answer() == "seal"
    assert kinds(service.kept) == [Kind.PAIRED, Kind.PAIRED]


def test_scanning_on_without_waiting_for_the_answer(tab: Tab, service: Hosted) -> None:
    """After a stop nothing counts that was scanned on, and that is told."""
    begin(tab)
    tab.click("#do-strip")
    tab.settle()
    wrong, after = pair(6)[0], pair(7)[0]
    tab.pause()
    events = tab.keys([*wrong, "Enter"], SCANNER_S)
    tab.send([*events, *tab.keys([*after, "Enter"], SCANNER_S)])
    tab.settle()
    assert tab.shown() == "stop"
    assert "was not counted" in tab.text("#remarks")
    assert kinds(service.kept) == [Kind.STOPPED]
    tab.set_aside()
    assert tab.state("label") == "wanted"
    assert tab.shown() == "none"


def test_a_slow_answer_is_not_waited_for(tab: Tab, service: Hosted) -> None:
    begin(tab)
    slow = [True]

    async def late(route: Any) -> None:
        if slow[0]:
            slow[0] = False
            await asyncio.sleep(7)
        await route.continue_()

    tab.run(tab.page.route("**/kiosk/entry", late))
    tab.type(LABEL)
    tab.run(tab.page.keyboard.press("Enter"))
    tab.wait(0.8)
    assert tab.shown() == "none"
    assert "Recording" in tab.text("#todo")
    tab.until("lost")
    tab.until("seal")
    tab.settle()
    assert kinds(service.kept) == [Kind.PAIRED]


def test_a_ledger_that_takes_nothing(
    tab: Tab, service: Hosted, monkeypatch: pytest.MonkeyPatch
) -> None:
    begin(tab)

    def full(*_: object) -> None:
        raise LedgerUnusable("The disk is full", where="ledger", remedy="Make room.")

    with monkeypatch.context() as patched:
        patched.setattr(service.kept, "append", full)
        tab.type(LABEL)
        tab.run(tab.page.keyboard.press("Enter"))
        tab.until("lost")
        tab.wait(2)
        assert tab.shown() == "lost"
    tab.until("seal")
    assert kinds(service.kept) == [Kind.PAIRED]

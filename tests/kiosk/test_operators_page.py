"""The operator's page and the token's page in every state, seen in every way
(`tests/kiosk/looking.py`)."""

from __future__ import annotations

import asyncio
import re
from typing import Any

from pairing.desk.counter import Counter
from pairing.ledger import Ledger
from pairing.model import Side
from tests.kiosk.conftest import Hosted
from tests.kiosk.driving import Browser, Tab
from tests.kiosk.looking import holds
from tests.kiosk.making import PIN, copied_pieces
from tests.ledger.making import pair as sealed


def test_the_operators_page(browser: Browser, service: Hosted, ledger: Ledger) -> None:
    a_day(ledger)
    tab = browser.open(f"{service.address}operator")
    holds(tab, "the PIN is asked for")
    for pin, then in (("0", "#no:not(:empty)"), (PIN, "#sheets section")):
        tab.run(tab.page.fill("#pin", pin))
        tab.run(tab.page.keyboard.press("Enter"))
        tab.run(tab.page.wait_for_selector(then))
        holds(tab, f"PIN {pin}")
    shown = tab.text("#sheets")
    assert re.search(r"\bsealed\s+2\b", shown)
    assert "One digit is missing in the box." in shown
    assert "9589 0733 6140 0182 4530 19" in shown  # outstanding
    tab.run(tab.page.click("summary >> nth=0"))
    tab.run(tab.page.fill("#sought", "orrick"))
    tab.run(tab.page.press("#sought", "Enter"))
    tab.run(tab.page.wait_for_selector("#hits table"))
    holds(tab, "the day, a table opened, a piece found")
    held = tab.run(held_back(tab))
    tab.click("#out")
    tab.run(held())
    assert tab.text("#sheets") == ""
    tab.close()


async def held_back(tab: Tab) -> Any:
    """Has the page ask for the day; the answer arrives when what this gives is awaited."""
    asked = asyncio.get_running_loop().create_future()

    async def keep(route: Any) -> None:
        if asked.done():  # the page asks by itself too, every half minute
            await route.continue_()
        else:
            asked.set_result((route, await route.fetch()))

    await tab.page.route("**/operator/day*", keep)
    await tab.page.click("[data-days='7']")
    route, response = await asked

    async def arrive() -> None:
        await route.fulfill(response=response)
        await tab.page.evaluate("new Promise((done) => setTimeout(done, 100))")

    return arrive


def a_day(ledger: Ledger) -> None:
    """One piece of each kind, as a counter records them."""
    counter = Counter(ledger, desk="desk 1", operator="")
    rows = {row["piece"]: row for row in copied_pieces()}
    for name in ("0008", "0013", "0015", "0021", "0023"):
        counter.scan(rows[name]["article"])
        counter.scan(rows[name]["card"])
        counter.key(Side.BOX, rows[name]["box"])
    counter.scan(rows["0016"]["card"])
    counter.finish()
    named = {"name": "Adaline Orrick", "reference": "CV-417"}
    ledger.append(sealed(1, 1, particulars=named))


def test_the_tokens_page(browser: Browser, service: Hosted) -> None:
    tab = browser.open(f"{service.address}enter")
    tab.run(tab.page.fill("#token", "no"))
    tab.run(tab.page.keyboard.press("Enter"))
    tab.run(tab.page.wait_for_selector("#no:not(:empty)"))
    holds(tab, "a wrong token")
    tab.close()

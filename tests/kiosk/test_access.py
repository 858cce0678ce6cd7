"""axe-core (Deque's open rules for WCAG 2.2 A and AA) on both pages, in every state, in light
and in dark; and what the rules cannot see: order, words, sizes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

from tests.kiosk.conftest import Hosted
from tests.kiosk.driving import SCANNER_S, Browser, Tab
from tests.kiosk.making import CARD, LABEL, PIN, copied_pieces

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
SIZES = {"7-inch tablet": (1024, 600), "phone": (320, 640), "wall": (3840, 2160)}


@pytest.fixture(params=["light", "dark"])
def tab(request: pytest.FixtureRequest, browser: Browser, service: Hosted) -> Iterator[Tab]:
    """The kiosk's page in one theme."""
    opened = browser.open(f"{service.address}?theme={request.param}")
    yield opened
    opened.close()


def holds(tab: Tab, state: str) -> None:
    """No violation in this state. Animations are over first: halfway colors prove nothing."""
    module = pytest.importorskip(
        "axe_playwright_python.async_playwright", reason="needs axe-playwright-python"
    )
    tab.wait(0.25)
    options = {"runOnly": {"type": "tag", "values": RULES}}
    found: Any = tab.run(module.Axe().run(tab.page, options=options)).response["violations"]
    told = [(one["id"], [node["target"] for node in one["nodes"]]) for one in found]
    assert told == [], state


def test_the_kiosk_in_every_state(tab: Tab) -> None:
    holds(tab, "at rest")
    tab.scan("9780471117094")
    holds(tab, "a remark")
    tab.scan(LABEL)
    tab.scan(CARD)
    holds(tab, "the box is asked for")
    tab.run(tab.page.keyboard.press("Enter"))
    holds(tab, "nothing was keyed")
    tab.key_in(LABEL)
    holds(tab, tab.answer())
    row = next(row for row in copied_pieces() if row["piece"] == "0015")
    tab.scan(row["article"])
    tab.scan(row["card"])
    tab.key_in(row["box"])
    assert tab.answer() == "stop"
    holds(tab, "stop")
    tab.pause()
    tab.send(tab.keys([*LABEL, "Enter"], SCANNER_S))
    tab.wait(0.3)
    holds(tab, "a scan while a stopped piece is on the screen")
    tab.set_aside()
    tab.scan(row["card"])
    tab.click("#do-next")
    assert tab.answer() == "look"
    holds(tab, "look")
    tab.click("#do-again")
    tab.settle()
    tab.click("#menu summary")
    holds(tab, "the menu")
    tab.click("#menu summary")
    tab.run(tab.page.route("**/kiosk/**", lambda route: route.abort()))
    tab.scan(row["card"], "")
    tab.until("lost")
    holds(tab, "lost")
    warn = "document.getElementById('idle-says').textContent = 'soon'; idle.hidden = false"
    tab.run(tab.page.evaluate(warn))
    holds(tab, "about to be wiped")


def test_the_operators_page(browser: Browser, service: Hosted) -> None:
    rows = {row["piece"]: row for row in copied_pieces()}
    kiosk = browser.open(service.address)
    for name in ("0008", "0013", "0015", "0021", "0023"):
        kiosk.scan(rows[name]["article"])
        kiosk.scan(rows[name]["card"])
        kiosk.key_in(rows[name]["box"])
        if kiosk.answer() != "seal":
            kiosk.set_aside()
    kiosk.scan(rows["0016"]["card"])
    kiosk.click("#do-next")
    kiosk.settle()
    kiosk.close()
    for theme in ("light", "dark"):
        tab = browser.open(f"{service.address}operator?theme={theme}")
        holds(tab, "the PIN is asked for")
        tab.run(tab.page.fill("#pin", "0"))
        tab.run(tab.page.keyboard.press("Enter"))
        tab.run(tab.page.wait_for_selector("#no:not(:empty)"))
        holds(tab, "a wrong PIN")
        tab.run(tab.page.fill("#pin", PIN))
        tab.run(tab.page.keyboard.press("Enter"))
        tab.run(tab.page.wait_for_selector("#sheets section"))
        shown = tab.text("#sheets")
        assert re.search(r"\bsealed\s+1\b", shown)
        assert "One digit is missing in the box." in shown
        assert "9589 0733 6140 0182 4530 19" in shown  # outstanding
        tab.run(tab.page.click("summary >> nth=0"))
        holds(tab, "the day")
        tab.click("#out")
        assert tab.text("#sheets") == ""
        tab.close()


def test_the_tokens_page(browser: Browser, service: Hosted) -> None:
    for theme in ("light", "dark"):
        tab = browser.open(f"{service.address}enter?theme={theme}")
        tab.run(tab.page.fill("#token", "no"))
        tab.run(tab.page.keyboard.press("Enter"))
        tab.run(tab.page.wait_for_selector("#no:not(:empty)"))
        holds(tab, "a wrong token")
        tab.close()


@pytest.mark.parametrize("size", SIZES)
def test_sizes(browser: Browser, service: Hosted, size: str) -> None:
    """Nothing runs out of the screen to the side, and a number is on one line from a
    tablet up."""
    width, height = SIZES[size]
    row = next(row for row in copied_pieces() if row["piece"] == "0015")
    tab = browser.open(f"{service.address}?lang=fr", viewport={"width": width, "height": height})
    tab.scan(row["article"])
    tab.scan(row["card"])
    tab.key_in(row["box"])
    assert tab.answer() == "stop"
    inside = tab.run(tab.page.evaluate("document.documentElement.scrollWidth <= innerWidth"))
    assert inside
    if size != "phone":
        high = tab.run(
            tab.page.evaluate(
                """() => ['.word', '.digits', '#do-aside', '#do-again'].every((one) =>
                document.querySelector(one).getBoundingClientRect().bottom <= innerHeight)"""
            )
        )
        lines = tab.run(
            tab.page.evaluate(
                """() => [...document.querySelectorAll('.digits dd')].map((one) =>
                new Set([...one.children].map((group) => group.offsetTop)).size)"""
            )
        )
        assert high
        assert lines == [1, 1]
    tab.close()


def test_answers_differ_without_hue(browser: Browser, service: Hosted) -> None:
    """Word, shape of the panel, sign and sound each differ between the three answers."""
    tab = browser.open(service.address)
    drawn = tab.run(
        tab.page.evaluate(
            """async () => {
                const { sign } = await import('/page/answers.js');
                const node = document.getElementById('answer');
                return ['seal', 'stop', 'look', 'lost'].map((name) => {
                    node.dataset.answer = name;
                    const style = getComputedStyle(node);
                    return {sign: sign(name).innerHTML, shape: [style.borderTopStyle,
                        style.borderTopLeftRadius, style.clipPath !== 'none',
                        style.borderImageSource !== 'none'].join()};
                });
            }"""
        )
    )
    assert len({one["sign"] for one in drawn}) == 4
    assert len({one["shape"] for one in drawn}) == 4
    tab.close()

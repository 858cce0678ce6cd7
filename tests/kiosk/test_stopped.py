"""After a stop nothing leads on but a deliberate act, and nothing that follows the page seals.

Played in a real browser. What the page did before: the focus went to "Key a number", whose form
was set to the label's side, so that Enter, the box's number, Enter and twice more the same made
another piece of one that had just been stopped, and sealed it.
"""

from __future__ import annotations

import pytest

from pairing.ledger import Kind
from tests.kiosk.conftest import Hosted
from tests.kiosk.driving import SCANNER_S, Browser, Tab
from tests.kiosk.making import CARD, LABEL, pair

OTHER, OTHER_CARD = pair(21)

MM_A_PX = 0.214
"""A 10-inch screen of 1024 x 600 pixels."""

CAPITAL_EM = 0.72
"""Capitals of DejaVu Sans and its like, in em (from memory: 0.729; Segoe UI 0.70)."""


def enter(tab: Tab, times: int = 1) -> None:
    """A person presses Enter."""
    for _ in range(times):
        tab.run(tab.page.keyboard.press("Enter"))
        tab.wait(0.15)


def key_blindly(tab: Tab, text: str) -> None:
    """Whoever follows the page: Enter where it leads, then the number, then Enter."""
    enter(tab)
    tab.type(text)
    enter(tab)


def stop(tab: Tab) -> None:
    """Label and card of one piece; another label's number, its check digit right, in the box."""
    tab.scan(LABEL)
    tab.scan(CARD)
    tab.key_in(OTHER)
    assert tab.answer() == "stop"


def scan_unheeded(tab: Tab, text: str, ends: tuple[str, ...] = ("Enter",)) -> None:
    """A scan of which the page makes no entry."""
    tab.pause()
    tab.send(tab.keys([*text, *ends], SCANNER_S))
    tab.wait(0.5)


def test_following_the_page_after_a_stop_never_seals(tab: Tab, service: Hosted) -> None:
    stop(tab)
    key_blindly(tab, OTHER)
    scan_unheeded(tab, CARD)
    key_blindly(tab, OTHER)
    key_blindly(tab, OTHER)
    assert tab.shown() == "stop"
    assert service.kinds() == [Kind.STOPPED]
    assert not tab.run(tab.page.is_visible("#keying"))


def test_following_the_page_after_look_again_never_seals(tab: Tab, service: Hosted) -> None:
    tab.scan(LABEL)
    tab.scan(CARD)
    tab.click("#do-next")
    assert tab.answer() == "look"
    key_blindly(tab, OTHER)
    scan_unheeded(tab, CARD)
    key_blindly(tab, OTHER)
    key_blindly(tab, OTHER)
    assert tab.shown() == "look"
    assert service.kinds() == [Kind.STOPPED]


def test_a_stop_is_left_by_a_button_and_then_no_side_is_preset(tab: Tab, service: Hosted) -> None:
    stop(tab)
    assert "Set this piece aside" in tab.text("#todo")
    scan_unheeded(tab, LABEL)
    assert "Set it aside first" in tab.text("#refused")
    assert "Not counted" in tab.text("#voice")
    tab.set_aside()
    assert tab.shown() == "none"
    assert tab.state("label") == "wanted"
    tab.click("#do-key")
    assert tab.run(tab.page.locator("#keying input[type=radio]:checked").count()) == 0
    tab.run(tab.page.focus("#number"))
    tab.type(OTHER)
    enter(tab)
    assert "First choose where" in tab.text("#keying-no")
    assert service.kinds() == [Kind.STOPPED]


def test_start_over_closes_the_form_and_forgets_its_digits(tab: Tab) -> None:
    tab.scan(LABEL)
    tab.scan(CARD)
    tab.run(tab.page.focus("#number"))
    tab.type("12345")
    tab.click("#do-again")
    tab.settle()
    assert not tab.run(tab.page.is_visible("#keying"))
    assert tab.run(tab.page.input_value("#number")) == ""
    assert tab.state("label") == "wanted"


def test_a_stop_outlives_loading_the_page_again(tab: Tab, service: Hosted) -> None:
    stop(tab)
    tab.run(tab.page.reload())
    tab.run(tab.page.wait_for_selector("body[data-ready=yes]"))
    assert tab.shown() == "stop"
    assert "entry 1, recorded at" in tab.text("#remarks")
    assert LABEL[-8:] not in tab.run(tab.page.content())
    key_blindly(tab, OTHER)
    scan_unheeded(tab, OTHER)
    assert tab.shown() == "stop"
    tab.set_aside()
    tab.scan(OTHER)
    tab.scan(OTHER_CARD)
    tab.key_in(OTHER)
    assert tab.answer() == "seal"
    tab.run(tab.page.reload())
    tab.run(tab.page.wait_for_selector("body[data-ready=yes]"))
    assert tab.shown() == "none"
    assert "entry 2, recorded at" in tab.text("#remarks")
    assert "Seal" in tab.text("#remarks")


@pytest.mark.parametrize("action", ["do-key", "do-again"])
@pytest.mark.parametrize("ends", [("Enter", "Enter"), ("Enter", "Tab", "Enter")])
def test_two_line_ends_press_nothing(tab: Tab, action: str, ends: tuple[str, ...]) -> None:
    """A scanner set to CR LF: the second must not press what has the focus."""
    tab.scan(LABEL)
    tab.run(tab.page.focus(f"#{action}"))
    before = tab.entries()
    scan_unheeded(tab, CARD, ends)
    tab.settle()
    assert tab.entries() == before + 1
    assert (tab.state("label"), tab.state("card")) == ("read", "read")
    # The form is open because the box alone is missing; nothing was pressed in it.
    assert tab.text("#keying-no") == ""


def test_no_action_keeps_the_focus(tab: Tab) -> None:
    is_action = "document.activeElement.closest('button, a, summary') !== null"
    tab.click("#do-key")
    tab.click("#keying-leave")
    assert not tab.run(tab.page.evaluate(is_action))
    stop(tab)
    assert not tab.run(tab.page.evaluate(is_action))
    tab.set_aside()
    assert not tab.run(tab.page.evaluate(is_action))


def test_a_refused_scan_is_told_in_a_place_of_its_own(tab: Tab) -> None:
    tab.scan("9780471117094")
    assert "Not counted" in tab.text("#refused")
    large = "parseFloat(getComputedStyle(document.querySelector('.refused-word')).fontSize)"
    assert float(tab.run(tab.page.evaluate(large))) >= 40
    tab.scan(LABEL)
    assert not tab.run(tab.page.is_visible("#refused"))


def test_the_form_and_the_strip_are_never_asked_for_together(tab: Tab) -> None:
    tab.scan(LABEL)
    tab.scan(CARD)
    assert tab.run(tab.page.is_visible("#keying"))
    tab.click("#do-strip")
    tab.settle()
    assert "strip" in tab.text("#todo")
    assert not tab.run(tab.page.is_visible("#keying"))


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_stop_is_at_least_as_strong_as_seal(browser: Browser, service: Hosted, theme: str) -> None:
    """Contrast of the panel against what surrounds it, and of its text (WCAG 2.2, relative
    luminance)."""
    tab = browser.open(f"{service.address}?theme={theme}")
    measured = tab.run(
        tab.page.evaluate(
            """() => {
                const linear = (one) =>
                    one <= 0.04045 ? one / 12.92 : ((one + 0.055) / 1.055) ** 2.4;
                const light = (text) => {
                    const parts = text.match(/[\\d.]+/g).slice(0, 3)
                        .map((one) => linear(one / 255));
                    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2];
                };
                const ratio = (one, other) => {
                    const [low, high] = [light(one), light(other)].sort((a, b) => a - b);
                    return (high + 0.05) / (low + 0.05);
                };
                const around = getComputedStyle(document.getElementById('main')).backgroundColor;
                const node = document.getElementById('answer');
                return Object.fromEntries(['seal', 'stop'].map((name) => {
                    node.dataset.answer = name;
                    const style = getComputedStyle(node);
                    return [name, [ratio(style.backgroundColor, around),
                        ratio(style.backgroundColor, style.color)]];
                }));
            }"""
        )
    )
    assert measured["stop"][0] >= measured["seal"][0] >= 7
    assert measured["stop"][1] >= measured["seal"][1] >= 7
    tab.close()


def sizes_px(tab: Tab) -> list[float]:
    """The font size of everything with text of its own on the screen, in device pixels."""
    found: list[float] = tab.run(
        tab.page.evaluate(
            """() => [...document.querySelectorAll('body *')].filter((one) =>
                one.checkVisibility() && !one.closest('.unseen, .skip, svg')
                && [...one.childNodes].some((node) => node.nodeType === 3 && node.data.trim()))
                .map((one) => parseFloat(getComputedStyle(one).fontSize) * devicePixelRatio)"""
        )
    )
    return found


def test_capitals_are_tall_enough_and_grow_with_the_zoom(browser: Browser, service: Hosted) -> None:
    """4.8 mm on a 10-inch screen (ADA Standards 2010, 707.7.2, from memory); a zoom of 200 % is
    half as many pixels, each twice as large."""
    smallest = []
    for scale in (1, 2):
        size = {"width": 1024 // scale, "height": 600 // scale}
        tab = browser.open(service.address, viewport=size, device_scale_factor=scale)
        found = sizes_px(tab)
        stop(tab)
        found += sizes_px(tab)
        smallest.append(min(found))
        inside = tab.run(tab.page.evaluate("document.documentElement.scrollWidth <= innerWidth"))
        assert inside
        tab.set_aside()
        tab.close()
    assert smallest[0] * CAPITAL_EM * MM_A_PX >= 4.8
    assert smallest[1] >= 1.9 * smallest[0]

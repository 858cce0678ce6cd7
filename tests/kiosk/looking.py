"""A page looked at in light, in dark, at twice the size and in forced colors.

axe-core's rules (Deque; WCAG 2.2 A and AA) name nothing, and nothing runs out to the side.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.kiosk.driving import Tab

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
BY_LOOKS = ["color-contrast", "link-in-text-block", "scrollable-region-focusable", "target-size"]
"""The rules whose outcome depends on colors and sizes; the others are held once a state."""

WHOLE, HALF = {"width": 1280, "height": 800}, {"width": 640, "height": 400}
"""A zoom of 200 % leaves half as many pixels each way."""

OUTSIDE = """() => document.documentElement.scrollWidth <= innerWidth ? [] :
    [...document.querySelectorAll('body *')].filter((one) => one.checkVisibility()
        && !one.closest('.roll')
        && one.getBoundingClientRect().right > innerWidth).map((one) => one.outerHTML.slice(0, 90))
"""
"""What makes the page wider than its window."""


VIOLATIONS = """(options) => axe.run(options).then((found) => found.violations.map(
    (one) => [one.id, one.nodes.map((at) => at.target)]))"""


def violations(tab: Tab, only: dict[str, Any]) -> Any:
    """Each rule that is broken and where. The rules are loaded once a page, and what passes stays
    in the page: both cost more than the looking."""
    module = pytest.importorskip(
        "axe_playwright_python.async_playwright", reason="needs axe-playwright-python"
    )
    if not tab.run(tab.page.evaluate("'axe' in window")):
        tab.run(tab.page.evaluate(module.Axe().axe_script))
    options = {"runOnly": only, "resultTypes": ["violations"]}
    return tab.run(tab.page.evaluate(VIOLATIONS, options))


def holds(tab: Tab, state: str) -> None:
    """No violation in this state, however it is seen, and nothing runs out to the side."""
    light, forced = ("light", "dark"), ("none", "active")
    ways = [
        ("light", WHOLE, light[0], forced[0]),
        ("dark", WHOLE, light[1], forced[0]),
        ("dark at 200 %", HALF, light[1], forced[0]),
        ("forced colors at 200 %", HALF, light[0], forced[1]),
    ]
    for name, size, colors, are_forced in ways:
        look = {"color_scheme": colors, "forced_colors": are_forced, "reduced_motion": "reduce"}
        tab.run(tab.page.emulate_media(**look))
        tab.run(tab.page.set_viewport_size(size))
        only = {"type": "tag", "values": RULES}
        if name != "light":
            only = {"type": "rule", "values": BY_LOOKS}
        told = violations(tab, only)
        assert told == [], (state, name, told)
        outside = tab.run(tab.page.evaluate(OUTSIDE))
        assert outside == [], (state, name)
    tab.run(tab.page.emulate_media(color_scheme="light", forced_colors="none"))
    tab.run(tab.page.set_viewport_size(WHOLE))

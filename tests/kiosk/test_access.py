"""What axe-core's rules (`tests/kiosk/looking.py`) cannot see of the page: sizes, and
answers that differ without their hue."""

from __future__ import annotations

import pytest

from tests.kiosk.conftest import Hosted
from tests.kiosk.driving import Browser
from tests.kiosk.making import copied_pieces

SIZES = {"7-inch tablet": (1024, 600), "phone": (320, 640), "wall": (3840, 2160)}


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

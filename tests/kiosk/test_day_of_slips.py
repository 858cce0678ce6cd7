"""A day at the kiosk's page on which everything goes wrong that a tired hand does wrong: every slip
ends with the right next step on the screen, and no piece is lost.

The slips are those of `tests/cli/test_day_of_slips.py`, as far as a page has them.
`COUNTERFOIL_SLIP_PIECES=60` makes the day long; by default there is a piece for each slip.
"""

from __future__ import annotations

import os
from collections.abc import Callable

from pairing.desk.unsettled import unsettled
from pairing.ledger import Kind
from tests.kiosk.conftest import Hosted
from tests.kiosk.driving import SCANNER_S, Browser, Tab
from tests.ledger.making import card, label

PIECES = int(os.environ.get("COUNTERFOIL_SLIP_PIECES", "0"))


def both(tab: Tab, n: int) -> None:
    tab.scan(label(n))
    tab.scan(card(n))


def right(tab: Tab, n: int) -> None:
    """A piece without a slip."""
    both(tab, n)
    sealed(tab, n)


def sealed(tab: Tab, n: int) -> None:
    tab.key_in(label(n))
    assert tab.answer() == "seal", tab.text("#main")


def refused(tab: Tab, part: str) -> None:
    tab.run(tab.page.wait_for_selector("#refused:not([hidden])"))
    assert part in tab.text("#refused")


def burst(tab: Tab, text: str) -> None:
    """A scan that makes no entry."""
    tab.pause()
    tab.send(tab.keys([*text, "Enter"], SCANNER_S))
    tab.wait(0.5)


def strip_without_its_word(tab: Tab, n: int) -> None:
    both(tab, n)
    tab.scan(label(n))
    refused(tab, "Was it the strip in the box?")
    tab.click("#refused-strip")
    tab.reads("#todo", "Scan the strip in the box.")
    tab.scan(label(n))
    assert tab.answer() == "seal"


def lost_digits(tab: Tab, n: int) -> None:
    tab.scan(label(n)[:9] + label(n)[12:])
    assert tab.run(tab.page.is_visible("#refused"))
    right(tab, n)


def own_bars_for_the_strip(tab: Tab, n: int) -> None:
    both(tab, n)
    tab.click("#do-strip")
    tab.settle()
    tab.scan(card(n))
    refused(tab, "the card's own barcode")
    sealed(tab, n)


def mistyped_box(tab: Tab, n: int) -> None:
    both(tab, n)
    tab.key_in(label(n + 500))
    assert tab.answer() == "stop"
    tab.reads("#todo", "Set this piece aside. Do not mail it.")
    tab.click("#do-again")
    tab.reads("#todo", "Scan the label and the card.")
    right(tab, n)


def next_label_too_early(tab: Tab, n: int) -> None:
    both(tab, n)
    tab.scan(label(n + 600))
    refused(tab, "end this one first")
    tab.scan(label(n))  # it was a slip
    sealed(tab, n)


def scan_into_the_form(tab: Tab, n: int) -> None:
    both(tab, n)
    tab.scan(label(n))  # the form is open: it does not fill it
    assert tab.run(tab.page.input_value("#number")) == ""
    sealed(tab, n)


def sealed_before(tab: Tab, n: int) -> None:
    right(tab, n)
    tab.scan(label(n))
    tab.reads("#todo", "This piece is sealed already. Start over.")
    tab.click("#do-again")
    tab.settle()


def nothing_keyed(tab: Tab, n: int) -> None:
    both(tab, n)
    tab.run(tab.page.keyboard.press("Enter"))
    assert "Nothing was keyed." in tab.text("#keying")
    sealed(tab, n)


def strip_too_early(tab: Tab, n: int) -> None:
    tab.scan(label(n))
    tab.click("#do-strip")
    tab.settle()
    assert "Scan label and card first" in tab.text("#main")
    tab.scan(card(n))
    sealed(tab, n)


def scanned_on_after_a_stop(tab: Tab, n: int) -> None:
    both(tab, n)
    tab.key_in(label(n + 700))
    assert tab.answer() == "stop"
    burst(tab, label(n + 1))
    refused(tab, "Set it aside first")
    assert tab.shown() == "stop"
    tab.set_aside()
    right(tab, n)


def loose_digits(tab: Tab, n: int) -> None:
    tab.type("92")
    assert "Keys typed by hand do not count here" in tab.text("#remarks")
    right(tab, n)


SLIPS: tuple[Callable[[Tab, int], None], ...] = (
    strip_without_its_word, lost_digits, own_bars_for_the_strip, mistyped_box,
    next_label_too_early, scan_into_the_form, sealed_before, nothing_keyed, strip_too_early,
    scanned_on_after_a_stop, loose_digits,
)  # fmt: skip


def test_every_slip_ends_with_the_next_step_and_nothing_is_lost(
    browser: Browser, service: Hosted
) -> None:
    pieces = max(PIECES, len(SLIPS))
    every = pieces // len(SLIPS)
    tab = browser.open(service.address)
    for n in range(1, pieces + 1):
        is_slip = n % every == 0 and n // every <= len(SLIPS)
        (SLIPS[n // every - 1] if is_slip else right)(tab, n)
    assert tab.errors == []
    tab.close()
    with service.ledger() as ledger:
        found = [one.article for one in ledger.entries(kinds=(Kind.PAIRED,))]
        assert [one.article for one in unsettled(ledger, since=None)] == []
    assert sorted(map(str, found)) == sorted(label(n) for n in range(1, pieces + 1))

"""The kiosk's page in every state: seen in every way (`tests/kiosk/looking.py`), and what a screen
reader finds there, in its order. One page is led through its states once."""

from __future__ import annotations

import re
from typing import Any

from pairing.ledger import Draft, Kind, Ledger
from tests.kiosk.conftest import Hosted
from tests.kiosk.driving import SCANNER_S, Browser, Tab
from tests.kiosk.looking import holds
from tests.kiosk.making import CARD, LABEL, copied_pieces, pair

WRONG = next(row for row in copied_pieces() if row["piece"] == "0015")


def read_out(tab: Tab) -> list[str]:
    """What a screen reader finds from top to bottom: names, headings and texts, without the
    names of what they stand in."""
    tree = tab.run(tab.page.locator("body").aria_snapshot())
    found: list[str] = []
    for line in tree.splitlines():
        said = re.sub(
            r"^(- )?(/\w+: .*|(?!link)[a-z]+( \"[^\"]*\")? ?(\[.*\])?:)$", "", line.strip()
        )
        said = re.sub(
            r"^- (heading|button|link|textbox|img|radio|paragraph|listitem|text|status"
            r"|group|term|definition|mark|alert|checkbox)\b:? ?",
            "",
            said,
        )
        said = re.sub(r" \[[a-z0-9= ]+\]|\": .*$", "", said).strip('":')
        found += [said] if said and said not in found[-1:] else []
    return found


PAD = [*"1234567890", "Erase", "Letters"]
FORM = ["The number, as you read it there", *PAD, "Enter the number", "Cancel"]
STOPPED = [
    "Stop", "Do not seal this piece. Recorded as entry 3.", "Two neighboring digits are swapped.",
    "In group 5, digits 1 and 2: label 72, box 27.",
    "Label", "9589 0733 6140 0182", "7", "2", "16 44",
    "Box", "9589 0733 6140 0182", "2", "7", "16 44", "It is set aside", "Start over",
]  # fmt: skip
READ = {
    "at rest": [
        "Scan the label and the card.", "Label not yet read", "Card not yet read",
        "Box not yet read", "Key a number",
    ],
    "the box is asked for, keys on the screen": [
        "Key what is written in the card's box.", "Label read", "Card read", "Box needed now",
        *FORM, "Strip in the box", "Start over", "Key what is written in the card's box.",
    ],
    "the strip is asked for": [
        "Scan the strip in the box.", "Label read", "Card read", "Box needed now",
        "Strip in the box", "Start over", "Scan the strip in the box.",
    ],
    "stop": [
        "Set this piece aside. Do not mail it.", *STOPPED,
        "Stop. Do not seal this piece. Recorded as entry 3. Two neighboring digits are swapped. "
        "In group 5, digits 1 and 2: label 72, box 27.",
    ],
    "a scan while a stopped piece is on the screen": [
        "Set this piece aside. Do not mail it.", "Not counted",
        "The piece on the screen was stopped. Set it aside first: press “It is set aside”, or "
        "“Start over”.", *STOPPED,
        "Not counted. The piece on the screen was stopped. Set it aside first: press “It is set "
        "aside”, or “Start over”. Set this piece aside. Do not mail it.",
    ],
}  # fmt: skip
"""What is read aloud: the headline, then a refusal, then what was read or the answer, then what may
be pressed; last what is said at once as it happens. Sample piece 0015 has its digits 17 and 18
swapped (`sample_scans/manifest.csv`)."""


def reads(tab: Tab, state: str) -> None:
    """As `holds`; and what is read aloud is in order, and nothing of it is there twice."""
    _, desk, menu, *said = read_out(tab)
    assert (desk, menu) == ("desk 1", "More")
    assert said == READ.get(state, said)
    on_page = [one for one in said if re.search("[a-z].*[.?]", one)][:-1]
    assert len(set(on_page)) == len(on_page), said
    assert not any(".." in one or "?." in one for one in said), said
    holds(tab, state)


def burst(tab: Tab, text: str) -> None:
    """A scan of which the page makes no entry."""
    tab.pause()
    tab.send(tab.keys([*text, "Enter"], SCANNER_S))
    tab.run(tab.page.wait_for_selector("#refused:not([hidden])"))


CAMERA = """(does) => { navigator.mediaDevices.getUserMedia = async () => {
    if (!does) throw new Error('none');
    const film = document.createElement('canvas');
    film.width = 640; film.height = 360; film.getContext('2d').fillRect(0, 0, 9, 9);
    return film.captureStream(5); } }"""


def test_the_kiosk(browser: Browser, service: Hosted, ledger: Ledger) -> None:
    tab = browser.open(service.address, has_touch=True)
    before_a_piece(tab)
    a_sealed_piece(tab)
    stopped_pieces(tab)
    with_a_camera(tab)
    asked_about(tab, ledger)
    out_of_reach(tab)
    assert tab.errors == []
    tab.close()


def before_a_piece(tab: Tab) -> None:
    reads(tab, "at rest")
    tab.scan("9780471117094")
    reads(tab, "a scan of something else")
    tab.click("#menu summary")
    reads(tab, "the menu")
    tab.click("#menu summary")
    tab.click("#do-key")
    reads(tab, "the form, and where the number is")
    tab.run(tab.page.tap('#pad button[aria-label="Letters"]'))
    holds(tab, "letters on the screen")
    tab.run(tab.page.tap('#pad button[aria-label="Digits"]'))
    tab.click("#keying-leave")


def a_sealed_piece(tab: Tab) -> None:
    tab.scan(LABEL)
    holds(tab, "the card is asked for")
    tab.click("#do-whom")
    holds(tab, "for whom it is")
    tab.click("#whom-leave")
    tab.scan(CARD)
    reads(tab, "the box is asked for, keys on the screen")
    tab.run(tab.page.keyboard.press("Enter"))
    holds(tab, "nothing was keyed")
    tab.scan(LABEL)
    reads(tab, "a refused scan that may be the strip")
    tab.click("#refused-strip")
    tab.reads("#todo", "Scan the strip in the box.")
    reads(tab, "the strip is asked for")
    tab.click("#do-strip")
    tab.settle()
    tab.key_in(LABEL)
    assert tab.answer() == "seal"
    reads(tab, "seal")
    tab.scan(LABEL)
    holds(tab, "a sealed label")
    tab.scan(CARD)
    tab.key_in(LABEL)
    assert tab.answer() == "done"
    holds(tab, "done already")


def stopped_pieces(tab: Tab) -> None:
    tab.scan(WRONG["article"])
    tab.scan(WRONG["card"])
    tab.key_in(WRONG["box"])
    assert tab.answer() == "stop"
    reads(tab, "stop")
    burst(tab, LABEL)
    reads(tab, "a scan while a stopped piece is on the screen")
    tab.run(tab.page.reload())
    tab.run(tab.page.wait_for_selector("body[data-ready=yes]"))
    holds(tab, "loaded again after a stop")
    tab.set_aside()
    tab.scan(WRONG["card"])
    tab.click("#do-next")
    assert tab.answer() == "look"
    reads(tab, "scan again")
    tab.click("#do-again")
    tab.settle()


def with_a_camera(tab: Tab) -> None:
    tab.run(tab.page.evaluate(CAMERA, False))
    tab.click("#do-camera")
    tab.run(tab.page.wait_for_selector("#eye-close:not([hidden])"))
    reads(tab, "no camera")
    tab.click("#eye-close")
    tab.run(tab.page.evaluate(CAMERA, True))
    tab.click("#do-camera")
    tab.reads("#eye-says", "Not sharp yet.")
    reads(tab, "the camera is on")
    tab.scan(pair(11)[0])
    tab.scan(pair(11)[1])
    tab.click("#do-strip")
    tab.settle()
    tab.scan(pair(11)[0])
    assert tab.answer() == "seal"
    holds(tab, "seal beside the camera")
    tab.click("#do-camera")


def asked_about(tab: Tab, ledger: Ledger) -> None:
    listed = pair(31)
    kind: dict[str, Any] = {"kind": Kind.EXPECTED, "desk": "d", "operator": "o", "remark": "list"}
    ledger.append(Draft(article=listed[0], card=listed[1], **kind))
    tab.scan(pair(32)[0])
    reads(tab, "a label on no list")
    tab.scan(pair(32)[1])
    tab.key_in(pair(32)[0])
    assert tab.answer() == "ask"
    reads(tab, "ask")
    tab.set_aside()


def out_of_reach(tab: Tab) -> None:
    tab.run(tab.page.route("**/kiosk/**", lambda route: route.abort()))
    tab.scan(LABEL, "")
    tab.until("lost")
    reads(tab, "lost")
    warn = "document.getElementById('idle-says').textContent = 'soon'; idle.hidden = false"
    tab.run(tab.page.evaluate(warn))
    holds(tab, "about to be wiped")

"""The page in a real Chromium: scanners, people, and both at once.

Scans are typed 8 ms a key, people type at 120 ms (handbook of standards, section 7). Pieces and
answers: the sample set, by its manifest and by `wedge.csv`.
"""

from __future__ import annotations

import pytest

from pairing.ledger import Kind
from tests.kiosk.conftest import Hosted
from tests.kiosk.driving import ALT, CTRL, PERSON_S, SCANNER_S, Browser, Tab, key
from tests.kiosk.making import ANSWERS, CARD, LABEL, WedgePiece, copied_pieces, pair, wedge_pieces

GROUPED = "9589 0733 6140 0182 4530 19"


def test_every_oddity_of_a_wedge(tab: Tab) -> None:
    """Those pieces of the sample's wedge file, as a scanner types them, in which the keys
    matter; what comes of all of its lines, `tests/cli/test_commands.py` checks."""
    pieces = wedge_pieces()
    for number in (2, 3, 4, 5, 8, 9, 12, 14):
        _wedge_piece(tab, pieces[number - 1])


def _wedge_piece(tab: Tab, piece: WedgePiece) -> None:
    for line in piece.lines:
        if tab.shown() in ("stop", "look"):
            break  # the rest of it counts for nothing
        match line.word:
            case "scan":
                tab.scan(line.text)
            case "box":
                tab.key_in(line.text)
            case "strip":
                tab.click("#do-strip")
                tab.settle()
                if line.text:
                    tab.scan(line.text)
            case "next":
                tab.click("#do-next")
                tab.settle()
    if tab.shown() == "none":
        tab.click("#do-next")
        tab.settle()
    assert tab.answer() == ANSWERS[piece.verdict], piece.purpose
    if tab.shown() != "seal":
        tab.set_aside()


def test_a_whole_piece_of_each_error(tab: Tab, service: Hosted) -> None:
    """Every kind of error is entered in `test_desk.py`; here the page shows one of each shape."""
    shapes = ("digit", "adjacent-swap", "dropped", "extra", "groups-swapped", "own-card-number",
              "print-differs")  # fmt: skip
    rows = {row["error"]: row for row in copied_pieces() if row["error"] in shapes}
    assert len(rows) == len(shapes)
    for row in rows.values():
        tab.scan(row["article"])
        tab.scan(row["card"])
        tab.key_in(row["box"])
        assert tab.answer() == "stop" if row["box"] != row["article"] else "seal", row
        shown = tab.text("#answer")
        assert "Do not seal" in shown or row["box"] == row["article"]
        if tab.shown() != "seal":
            tab.set_aside()
    assert service.kinds().count(Kind.PAIRED) == sum(
        row["box"] == row["article"] for row in rows.values()
    )


def test_a_slow_scanner_does_not_key_the_box(tab: Tab, service: Hosted) -> None:
    """Its keys come 70 ms apart, too slow for a scan. With the box's field open the label would
    be there as if somebody had read it in the box."""
    tab.scan(LABEL)
    tab.scan(CARD)
    tab.run(tab.page.wait_for_selector("#keying:not([hidden])"))
    tab.run(tab.page.focus("#number"))
    tab.pause()
    tab.send(tab.keys(LABEL, 0.070))
    tab.wait(0.3)
    tab.run(tab.page.keyboard.press("Enter"))
    tab.settle()
    assert tab.shown() == "none"
    assert tab.state("box") == "asked"
    assert "digit by digit" in tab.text("#keying-no")
    assert service.kinds() == []
    tab.key_in(LABEL)
    assert tab.answer() == "seal"


def test_the_answer_names_the_place_and_marks_the_digits(tab: Tab) -> None:
    """Piece 0013: digit 19 wrong, group 5, digit 3; the label has 6, the box 2."""
    row = next(row for row in copied_pieces() if row["piece"] == "0013")
    tab.scan(row["card"])
    tab.scan(row["article"])
    tab.key_in(row["box"])
    assert "group 5, digit 3: label 6, box 2" in tab.text("#answer")
    marked = tab.run(tab.page.eval_on_selector_all("mark", "all => all.map(x => x.textContent)"))
    assert marked == ["6", "2"]
    assert tab.text("#voice").startswith("Stop. Do not seal")


@pytest.mark.parametrize("end", ["Enter", "Tab", ""])
def test_what_ends_a_scan(tab: Tab, end: str) -> None:
    tab.scan(LABEL, end)
    tab.scan(CARD, end)
    assert [tab.state(side) for side in ("label", "card", "box")] == ["read", "read", "asked"]
    assert tab.run(tab.page.evaluate("document.activeElement.id")) == "number"


def test_no_digit_of_the_label_on_the_page_before_the_box_is_entered(tab: Tab) -> None:
    watch = """() => {
        window.seen = '';
        const note = () => { window.seen += document.body.innerText
            + [...document.querySelectorAll('input')].map((one) => one.value).join(' '); };
        new MutationObserver(note).observe(document.body,
            {subtree: true, childList: true, characterData: true, attributes: true});
        document.addEventListener('input', note, true);
    }"""
    tab.run(tab.page.evaluate(watch))
    tab.scan(LABEL)
    tab.scan(CARD)
    tab.scan(LABEL)  # into the field that is open now
    seen = tab.run(tab.page.evaluate("window.seen")) + tab.run(tab.page.content())
    assert LABEL[-8:] not in seen
    assert GROUPED[-9:] not in seen
    tab.key_in(GROUPED)
    assert GROUPED.split()[-2] in tab.text("#answer")


def test_a_person_types_while_the_scanner_does(tab: Tab) -> None:
    """In the field: the person's keys stay there, the scan does not appear among them."""
    tab.scan(LABEL)
    tab.click("#do-key")
    tab.run(tab.page.focus("#number"))
    tab.pause()
    events = tab.keys("9589", PERSON_S)
    tab.clock += 0.3
    events += tab.keys([*CARD, "Enter"], SCANNER_S)
    tab.clock += 0.3
    events += tab.keys("0733", PERSON_S)
    tab.send(events)
    tab.settle()
    assert tab.state("card") == "read"
    assert tab.run(tab.page.input_value("#number")) == "95890733"


def test_keys_in_the_middle_of_a_burst_make_no_answer(tab: Tab, service: Hosted) -> None:
    """A person's key between two of the scanner's cannot be told apart: the scan is refused."""
    tab.pause()
    events = tab.keys(LABEL[:10], SCANNER_S)
    tab.clock -= SCANNER_S / 2
    events += tab.keys("7", SCANNER_S)
    events += tab.keys([*LABEL[10:], "Enter"], SCANNER_S)
    tab.send(events)
    tab.settle()
    assert tab.state("label") == "wanted"
    assert "Too few or too many digits" in tab.text("#refused")
    tab.scan(CARD)
    tab.scan(LABEL)
    tab.key_in(LABEL)
    assert tab.answer() in ("look", "seal")
    assert len(service.kinds()) == 1


def test_keys_of_a_person_outside_a_field_count_for_nothing(tab: Tab, service: Hosted) -> None:
    tab.type(LABEL)
    assert tab.state("label") == "wanted"
    assert "do not count" in tab.text("#remarks")
    assert service.kinds() == []


def test_gs_in_all_its_ways(tab: Tab) -> None:
    """As Ctrl+], F8 and Alt+keypad 029 (handbook of standards, section 7)."""
    routed, routing = "9407388126041970053168", "42098765"
    for way in ("ctrl", "f8", "alt"):
        tab.pause()
        events = tab.keys(routing, SCANNER_S)
        tab.clock += SCANNER_S
        at = tab.clock
        if way == "ctrl":
            held = {"code": "BracketRight", "modifiers": CTRL}
            events += [key("rawKeyDown", "]", at, **held), key("keyUp", "]", at, **held)]
        elif way == "f8":
            events += tab.keys(["F8"], SCANNER_S)
        else:
            events.append(key("rawKeyDown", "Alt", at, code="AltLeft", modifiers=ALT))
            for digit in "029":
                held = {"code": f"Numpad{digit}", "modifiers": ALT}
                events += [key("rawKeyDown", digit, at, **held), key("keyUp", digit, at, **held)]
            events.append(key("keyUp", "Alt", at, code="AltLeft"))
        events += tab.keys([*routed, "Enter"], SCANNER_S)
        tab.send(events)
        tab.settle()
        assert tab.state("label") == "read", way
        assert not tab.run(tab.page.is_visible("#remarks")), (way, tab.text("#remarks"))
        tab.click("#do-again")
        tab.settle()


def test_layouts_are_recognized_and_said(tab: Tab) -> None:
    tab.scan("ç(_çàè\"\"-&'àà&_é'('-_ç")
    assert tab.state("label") == "read"
    assert "AZERTY" in tab.text("#remarks")
    tab.click("#do-again")
    tab.settle()
    tab.scan("+C1RR519204375US".replace("]", "+"))
    assert "QWERTZ" in tab.text("#remarks")
    tab.click("#do-again")
    tab.settle()
    tab.scan("]c1420987659407388126041970053168")
    assert tab.state("label") == "read"
    assert "Caps Lock" in tab.text("#remarks")


def test_pasting_is_refused_with_a_reason(tab: Tab) -> None:
    tab.scan(LABEL)
    tab.scan(CARD)
    tab.run(
        tab.page.evaluate(
            """text => { const data = new DataTransfer(); data.setData('text', text);
            document.getElementById('number').dispatchEvent(new ClipboardEvent('paste',
            {clipboardData: data, bubbles: true, cancelable: true})); }""",
            LABEL,
        )
    )
    assert tab.run(tab.page.input_value("#number")) == ""
    assert "was not read from the item" in tab.text("#keying-no")


def test_a_stuck_key_is_no_scan(tab: Tab, service: Hosted) -> None:
    tab.pause()
    at = tab.clock
    tab.send([key("keyDown", "9", at + 0.03 * n, text="9", autoRepeat=n > 0) for n in range(40)])
    tab.settle()
    assert "held down" in tab.text("#remarks")
    assert service.kinds() == []


def test_keyboard_alone(tab: Tab) -> None:
    """From the first Tab to the answer without a pointer; focus can be seen at each stop."""
    press = tab.page.keyboard.press
    stops = []
    for _ in range(16):
        tab.run(press("Tab"))
        name = "document.activeElement.id || document.activeElement.parentElement?.id"
        stops.append(tab.run(tab.page.evaluate(name)))
        outline = "getComputedStyle(document.activeElement).outlineStyle"
        is_page = tab.run(tab.page.evaluate("document.activeElement === document.body"))
        assert is_page or tab.run(tab.page.evaluate(outline)) != "none"
    assert "do-key" in stops
    assert "menu" in stops
    tab.scan(LABEL)
    tab.scan(CARD)
    tab.type(LABEL)
    tab.run(press("Enter"))
    tab.settle()
    assert tab.answer() == "seal"


def test_the_page_wipes_itself(browser: Browser, restless: Hosted) -> None:
    tab = browser.open(restless.address)
    tab.scan(LABEL)
    tab.scan(CARD)
    tab.run(tab.page.wait_for_selector("#idle:not([hidden])", timeout=60_000))
    tab.click("#idle-stay")
    assert tab.state("label") == "read"
    tab.run(tab.page.wait_for_selector("#slot-label[data-state=wanted]", timeout=60_000))
    tab.wait(0.3)
    assert restless.kinds() == [Kind.STOPPED]
    assert GROUPED not in tab.text()
    tab.close()


def test_three_languages(tab: Tab) -> None:
    tab.click("[data-language=es]")
    tab.run(tab.page.wait_for_selector("html[lang=es]"))
    tab.scan(LABEL)
    assert "tarjeta" in tab.text("#todo")
    tab.click("[data-language=fr]")
    tab.run(tab.page.wait_for_selector("html[lang=fr]"))
    tab.scan(CARD)
    tab.key_in(LABEL[:-1])
    assert tab.answer() == "stop"
    assert tab.text("#answer").startswith("Arrêt")
    assert "manque" in tab.text("#answer")


def test_two_tabs(browser: Browser, service: Hosted) -> None:
    one, other = browser.open(service.address), browser.open(service.address)
    second = pair(11)
    one.scan(LABEL)
    other.scan(second[0])
    one.scan(CARD)
    other.scan(second[1])
    other.key_in(second[0])
    one.key_in(LABEL)
    assert (one.answer(), other.answer()) == ("seal", "seal")
    other.scan(LABEL)
    other.scan(CARD)
    other.key_in(LABEL)
    assert other.answer() == "done"
    assert "already recorded" in other.text("#answer")
    assert service.kinds() == [Kind.PAIRED, Kind.PAIRED, Kind.STOPPED]
    one.close()
    other.close()

"""A kiosk that has a touch screen and a scanner, and no keyboard: keys on the screen, barcodes that
press buttons."""

from __future__ import annotations

import json
from collections.abc import Iterator
from importlib import resources
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp

from pairing.kiosk.command_sheet import COMMANDS, pdf
from tests.kiosk.conftest import Hosted
from tests.kiosk.driving import Browser, Tab
from tests.kiosk.making import CARD, LABEL, copied_pieces

WRONG = next(row for row in copied_pieces() if row["piece"] == "0015")


@pytest.fixture
def touched(browser: Browser, service: Hosted) -> Iterator[Tab]:
    opened = browser.open(service.address, has_touch=True, viewport={"width": 1024, "height": 600})
    yield opened
    opened.close()


def tap(tab: Tab, text: str) -> None:
    for char in text:
        tab.run(tab.page.tap(f'#pad button[aria-label="{char}"]'))


def test_a_box_is_keyed_by_finger_alone(touched: Tab) -> None:
    touched.scan(LABEL)
    touched.scan(CARD)
    assert touched.run(touched.page.is_visible("#pad"))
    assert touched.run(touched.page.get_attribute("#number", "inputmode")) == "none"
    tap(touched, LABEL[:5])
    assert touched.text("#keying-grouped") == f"{LABEL[:4]} {LABEL[4]}"
    tap(touched, "7")
    touched.run(touched.page.tap('#pad button[aria-label="Erase"]'))
    tap(touched, LABEL[5:])
    touched.run(touched.page.tap("#keying button[type=submit]"))
    assert touched.answer() == "seal"
    assert touched.errors == []
    touched.scan(WRONG["article"])
    touched.scan(WRONG["card"])
    assert touched.run(touched.page.text_content("#keying-grouped")) == ""
    tap(touched, "123")
    touched.click("#keying-leave")
    touched.click("#do-key")
    assert touched.run(touched.page.text_content("#keying-grouped")) == ""


@pytest.mark.parametrize("keys", ["digits", "letters"])
def test_every_key_is_within_the_screen_and_large(touched: Tab, keys: str) -> None:
    """24 pixels at least (WCAG 2.2, 2.5.8); 44 (2.5.5) is what the page keeps to."""
    touched.scan(LABEL)
    touched.scan(CARD)
    if keys == "letters":
        touched.run(touched.page.tap('#pad button[aria-label="Letters"]'))
    for button in touched.run(touched.page.query_selector_all("#keying button")):
        box = touched.run(button.bounding_box())
        assert box["height"] >= 44
        assert box["width"] >= 44
        assert box["y"] + box["height"] <= 600


def test_letters_are_there_for_s10(touched: Tab) -> None:
    touched.click("#do-key")
    touched.run(touched.page.tap('#pad button[aria-label="Letters"]'))
    tap(touched, "RR")
    touched.run(touched.page.tap('#pad button[aria-label="Digits"]'))
    tap(touched, "40")
    assert touched.run(touched.page.input_value("#number")) == "RR40"


def test_a_barcode_presses_a_button_that_is_there(browser: Browser, service: Hosted) -> None:
    tab = browser.open(service.address)
    tab.scan(LABEL)
    tab.scan(CARD)
    tab.scan("COUNTERFOIL-STRIP")
    tab.scan(LABEL)
    assert tab.answer() == "seal"
    tab.scan(WRONG["article"])
    tab.scan(WRONG["card"])
    tab.key_in(WRONG["box"])
    assert tab.answer() == "stop"
    tab.pause()
    tab.send(tab.keys([*"COUNTERFOIL-STRIP", "Enter"], 0.008))
    tab.wait(0.5)
    assert tab.shown() == "stop"  # that button is not there: nothing but its own leaves a stop
    tab.send(tab.keys([*"COUNTERFOIL-ASIDE", "Enter"], 0.008))
    tab.until("none")
    tab.close()


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_printed_sheet_scans(paper: str) -> None:
    page = pypdfium2.PdfDocument(pdf(paper=paper))[0]
    read = zxingcpp.read_barcodes(page.render(scale=3).to_numpy())
    assert {one.text for one in read} == set(COMMANDS)
    assert {one.format for one in read} == {zxingcpp.BarcodeFormat.Code128}
    words = page.get_textpage().get_text_range()
    texts = resources.files("pairing.kiosk").joinpath("texts", "en.json").read_text("utf-8")
    assert all(json.loads(texts)["actions"][name] in words for name in COMMANDS.values())


def test_the_page_knows_every_barcode_of_the_sheet() -> None:
    script = resources.files("pairing.kiosk").joinpath("page", "kiosk.js").read_text("utf-8")
    for said, name in COMMANDS.items():
        assert f'"{said}": "do-{name}"' in script


def test_a_sealed_label_is_the_headline(browser: Browser, service: Hosted) -> None:
    tab = browser.open(service.address)
    tab.scan(LABEL)
    tab.scan(CARD)
    tab.key_in(LABEL)
    assert tab.answer() == "seal"
    tab.scan(LABEL)
    tab.reads("#todo", "This piece is sealed already. Start over.")
    tab.scan(CARD)
    tab.key_in(LABEL)
    assert tab.answer() == "done"
    assert tab.run(tab.page.get_attribute("#main", "data-held")) == ""
    tab.close()


def test_the_command_writes_the_sheet(tmp_path: Path) -> None:
    from click.testing import CliRunner

    from counterfoil.commands.kiosk import command

    target = tmp_path / "sheet.pdf"
    done = CliRunner().invoke(command, ["--commands", str(target), "--language", "fr"])
    assert done.exit_code == 0, done.output
    words = pypdfium2.PdfDocument(str(target))[0].get_textpage().get_text_range()
    assert "Bande dans la case" in words

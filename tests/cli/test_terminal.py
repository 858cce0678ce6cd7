"""`counterfoil check` on a pseudo terminal, with a scanner and a person at it."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.cli.terminal import Terminal

PACKAGE = "9374890100000003985039"  # BCOCA Reference, IMpb example
OTHER = "9400111201080805483016"  # tracking_number_data
CARD = "9590940258780038231151"  # NC DEQ public record NOV-2020-DV-0495
S10 = "EE876543216CA"  # UPU S10-12 Annex A


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Terminal]:
    terminal = Terminal("check", ledger=str(tmp_path / "none.db"))
    terminal.prompt()
    yield terminal
    if terminal.process.poll() is None:
        terminal.process.kill()
        terminal.process.wait()
    assert not (tmp_path / "none.db").exists()  # nothing is recorded


def test_a_piece_from_label_to_seal_without_showing_the_labels_number(desk: Terminal) -> None:
    shown = desk.scan(PACKAGE) + desk.scan(CARD)
    assert "card, box > " in shown
    assert PACKAGE[:8] not in shown
    shown = desk.type(f"/{PACKAGE}")
    assert f"/{PACKAGE}" in shown  # what a person types is echoed
    assert "Seal" in shown
    assert desk.last("end") == 0


def test_a_second_scan_of_the_label_is_never_the_box(desk: Terminal) -> None:
    desk.scan(CARD)
    desk.scan(PACKAGE)
    assert "counts once" in desk.scan(PACKAGE)
    assert "box: key /" in desk.scan(f"]C1{PACKAGE}")
    assert "Look again" in desk.type("next")
    assert desk.last("") == 11


def test_a_stopped_piece_is_set_aside_first(desk: Terminal) -> None:
    desk.scan(PACKAGE)
    desk.scan(CARD)
    shown = desk.type(f"box {OTHER}")
    assert "Do not seal" in shown
    assert "stopped: aside, or again > " in shown
    assert "Not counted: the last piece was stopped" in " ".join(desk.scan(OTHER).split())
    assert "label, card, box > " in desk.type("aside")
    assert desk.last("") == 10


def test_a_box_that_was_scanned_or_pasted_is_not_keyed(desk: Terminal) -> None:
    desk.scan(PACKAGE)
    desk.scan(CARD)
    assert "too fast" in desk.scan(f"box {PACKAGE}")
    assert desk.last("") == 11


def test_the_strip_is_scanned_after_its_word(desk: Terminal) -> None:
    assert "Scan the label of this piece first" in desk.type("strip")
    assert "was that the label" in desk.scan(PACKAGE)
    desk.scan(PACKAGE)
    desk.scan(CARD)
    assert "Scan the strip" in desk.type("strip")
    shown = desk.scan(f"]C1{PACKAGE}")
    assert "Seal" in shown
    assert "(barcode)" in shown
    assert desk.last("") == 0


def test_what_does_not_count_is_said_at_once(desk: Terminal) -> None:
    assert "ISBN" in desk.scan("9780471117094")
    assert "Not counted" in desk.scan(f"{PACKAGE[:-1]}8")
    assert "Started over" in desk.type("again")
    assert "/NUMBER" not in desk.type("help")
    assert "what you read in the card's box" in desk.screen
    assert "void" not in desk.screen
    assert desk.last("") == 11


def test_an_s10_item_with_a_numberless_card(desk: Terminal) -> None:
    desk.scan(S10)
    assert "next if it has no number" in desk.type(f"box {S10}")
    assert "Seal" in desk.type("next")
    assert desk.last("") == 0


def test_the_interrupt_signal_ends_it(desk: Terminal) -> None:
    desk.process.send_signal(signal.SIGINT)
    assert desk.end() == 130

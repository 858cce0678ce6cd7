"""`counterfoil returned` on a real (pseudo) terminal, with a scanner and a person at it."""

from __future__ import annotations

import time
from pathlib import Path

from pairing.ledger import Ledger
from tests.cli.terminal import Terminal
from tests.ledger.making import card, label, pair


def test_two_cards_and_the_number_is_not_seen_before_the_box_is_keyed(tmp_path: Path) -> None:
    path = tmp_path / "ledger.db"
    with Ledger.open(str(path)) as ledger:
        ledger.append(pair(1, 1))
        ledger.append(pair(2, 2))
    desk = Terminal("returned", "--desk", "d", ledger=str(path), start="2026-12-28T09:00:00")
    desk.prompt()
    desk.scan(card(1))
    desk.type(f"box {label(1)}")
    desk.type("signed 2031-01-01")
    assert "Look again" in desk.scan(card(2))
    time.sleep(0.2)  # Enter at once would be the second half of a scanner's line end
    desk.type("")
    code, screen = desk.last(""), desk.screen
    assert code == 11
    before_the_box, _, after = screen.partition("Look again")
    grouped = " ".join(label(1)[place : place + 4] for place in range(0, 22, 4))
    assert grouped not in before_the_box
    assert card(1) not in screen  # scans are not echoed
    assert f"box {label(1)}" in before_the_box  # what a person types is
    assert grouped in after
    assert "is still to come" in " ".join(after.split())
    assert "shown once the box is read" in after
    with Ledger.open(str(path)) as ledger:
        cards = [entry.card for entry in ledger.entries(first=3) if entry.card]
        assert cards == [card(1), card(2)]

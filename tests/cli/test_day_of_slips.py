"""A day at a terminal on which everything goes wrong that a tired hand does wrong: every slip ends
with the right next step on the screen, and no piece is lost.

15 slips (those that were seen when the counter was tried as a new user would; no other source).
`COUNTERFOIL_SLIP_PIECES=60` makes the day long; by default there is a piece for each slip.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from pairing.ledger import Kind, Ledger
from tests.cli.terminal import PACE_MS, Terminal
from tests.ledger.making import card, label

PIECES = int(os.environ.get("COUNTERFOIL_SLIP_PIECES", "0"))
SEALED = "Seal. Label and box agree"


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Terminal]:
    words = ("counter", "--desk", "desk 1", "--operator", "Theda Orrick", "--pace", str(PACE_MS))
    terminal = Terminal(*words, ledger=str(tmp_path / "ledger.db"))
    terminal.prompt()
    yield terminal
    if terminal.process.poll() is None:
        terminal.process.kill()
        terminal.process.wait()


def flat(text: str) -> str:
    """What is shown, as one line."""
    return " ".join(text.replace("¦", " ").split())


def says(shown: str, *parts: str) -> None:
    for part in parts:
        assert part in flat(shown), shown


def both(desk: Terminal, n: int) -> None:
    desk.scan(label(n))
    desk.scan(card(n))


def right(desk: Terminal, n: int) -> None:
    """A piece without a slip."""
    both(desk, n)
    says(desk.type(f"/{label(n)}"), SEALED)


def no_slash(desk: Terminal, n: int) -> None:
    both(desk, n)
    says(desk.type(label(n)), "press / and Enter")
    says(desk.type("/"), SEALED)


def strip_without_its_word(desk: Terminal, n: int) -> None:
    both(desk, n)
    says(desk.scan(label(n)), "type strip, press Enter, and scan it again")
    desk.type("strip")
    says(desk.scan(label(n)), SEALED)


def lost_digits(desk: Terminal, n: int) -> None:
    says(desk.scan(label(n)[:9] + label(n)[12:]), "Not counted")
    right(desk, n)


def own_bars_for_the_strip(desk: Terminal, n: int) -> None:
    both(desk, n)
    desk.type("strip")
    says(desk.scan(card(n)), "the card's own barcode", "Type strip and scan the strip")
    says(desk.type(f"/{label(n)}"), SEALED)


def mistyped_box(desk: Terminal, n: int) -> None:
    both(desk, n)
    says(desk.type(f"/{label(n + 500)}"), "Do not seal.", "If you mistyped the box, type again")
    says(desk.type("again"), "Started over")
    right(desk, n)


def next_label_too_early(desk: Terminal, n: int) -> None:
    both(desk, n)
    says(desk.scan(label(n + 600)), "If it was a slip: scan the label of this piece once more")
    says(desk.scan(label(n)), "That number was read already")
    says(desk.type(f"/{label(n)}"), SEALED)


def scan_behind_the_slash(desk: Terminal, n: int) -> None:
    both(desk, n)
    desk.keys("/")
    says(desk.scan(label(n)), "type strip, press Enter, and then scan")
    says(desk.type(f"/{label(n)}"), SEALED)


def sealed_before(desk: Terminal, n: int) -> None:
    right(desk, n)
    says(desk.scan(label(n)), "sealed already", "Type again, and scan another one")
    says(desk.type("again"), "Started over")


def misspelled_word(desk: Terminal, n: int) -> None:
    both(desk, n)
    says(desk.type("stirp"), "Did you mean strip?")
    desk.type("strip")
    says(desk.scan(label(n)), SEALED)


def void_of_the_wrong_piece(desk: Terminal, n: int) -> None:
    right(desk, n)
    says(desk.type("void 1"), "Say which and why")
    printed = " ".join(label(n)[at : at + 4] for at in range(0, 22, 4))
    says(desk.type(f"void {printed} torn"), "Void entry", printed, "Type yes")
    says(desk.type("no"), "Left as it is")


def label_that_does_not_scan(desk: Terminal, n: int) -> None:
    desk.type(f"label {label(n)}")
    desk.scan(card(n))
    says(desk.type(f"/{label(n)}"), "confirm WHY")
    says(desk.type("confirm the bars are torn"), SEALED)


def box_too_early(desk: Terminal, n: int) -> None:
    desk.scan(label(n))
    says(desk.type(f"/{label(n)}"), "scan the card of this piece first, then key the box")
    desk.scan(card(n))
    says(desk.type(f"/{label(n)}"), SEALED)


def double_read(desk: Terminal, n: int) -> None:
    desk.scan(label(n))
    says(desk.scan(label(n)), "it counts once")
    desk.scan(card(n))
    says(desk.type(f"/{label(n)}"), SEALED)


def set_aside_and_put_right(desk: Terminal, n: int) -> None:
    both(desk, n)
    says(desk.type(f"/{label(n + 700)}"), "Set the piece aside and type aside")
    says(desk.scan(label(n + 1)), "the last piece was stopped")  # nothing else counts before
    desk.type("aside")
    says(desk.scan(label(n)), "was stopped today")
    desk.scan(card(n))
    says(desk.type(f"/{label(n)}"), SEALED)


def scanned_cards_in_place_of_a_word(desk: Terminal, n: int) -> None:
    both(desk, n)
    says(desk.scan("next"), "came too fast to be typed")
    says(desk.type(f"/{label(n)}"), SEALED)


SLIPS: tuple[Callable[[Terminal, int], None], ...] = (
    no_slash, strip_without_its_word, lost_digits, own_bars_for_the_strip, mistyped_box,
    next_label_too_early, scan_behind_the_slash, sealed_before, misspelled_word,
    void_of_the_wrong_piece, label_that_does_not_scan, box_too_early, double_read,
    set_aside_and_put_right, scanned_cards_in_place_of_a_word,
)  # fmt: skip


def test_every_slip_ends_with_the_next_step_and_nothing_is_lost(
    desk: Terminal, tmp_path: Path
) -> None:
    pieces = max(PIECES, len(SLIPS))
    every = pieces // len(SLIPS)
    for n in range(1, pieces + 1):
        is_slip = n % every == 0 and n // every <= len(SLIPS)
        (SLIPS[n // every - 1] if is_slip else right)(desk, n)
    both(desk, 900)  # and one that is never put right
    desk.type(f"/{label(901)}")
    desk.type("aside")
    says(desk.type("end"), "Stopped today and not settled:", "1 piece was stopped", "Type yes")
    says(desk.type(f"settled {label(900)} given back to the sender"), "Recorded as entry")
    assert desk.last("end") == 10  # nothing is open; some did differ
    with Ledger.open(str(tmp_path / "ledger.db")) as ledger:
        assert ledger.verify().is_clean
        sealed = [one.article for one in ledger.entries(kinds=(Kind.PAIRED,))]
    assert sorted(sealed) == sorted(label(n) for n in range(1, pieces + 1))  # type: ignore[type-var]

"""`counterfoil check` on a real (pseudo) terminal, as at a counter."""

from __future__ import annotations

import os
import pty
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
PACKAGE = "9374890100000003985039"  # BCOCA Reference, IMpb example
OTHER = "9400111201080805483016"  # tracking_number_data
CARD = "9590940258780038231151"  # NC DEQ public record NOV-2020-DV-0495
S10 = "EE876543216CA"  # UPU S10-12 Annex A
# A shell starts background jobs with the interrupt ignored, and that is inherited.
ENTRY = (
    "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler); "
    "from counterfoil.main import main; sys.argv[0] = 'counterfoil'; main()"
)
PATIENCE_S = 20
START = "label, card, box > "
BOX_NEXT = "what stands there > "


class Counter:
    """A terminal with `counterfoil check` on it; what it shows is kept in `screen`."""

    def __init__(self) -> None:
        try:
            self.master, slave = pty.openpty()
        except OSError:
            pytest.skip("this root has no pseudo terminals (/dev/pts)")
        path = os.pathsep.join((str(ROOT), str(ROOT / "cli")))
        self.process = subprocess.Popen(
            [sys.executable, "-c", ENTRY, "check"],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env={**os.environ, "PYTHONPATH": path, "COLUMNS": "96", "TERM": "xterm"},
            close_fds=True,
            start_new_session=True,
        )
        os.close(slave)
        self.screen = ""
        self._seen = 0

    def until(self, text: str) -> str:
        """Read until `text` is shown; what came up to it since the last call."""
        end = time.monotonic() + PATIENCE_S
        while text not in self.screen[self._seen :]:
            ready, _, _ = select.select([self.master], [], [], max(0, end - time.monotonic()))
            assert ready, f"waited for {text!r}, saw {self.screen[self._seen :]!r}"
            chunk = os.read(self.master, 4096)
            self.screen += chunk.decode()
        start, self._seen = self._seen, self.screen.index(text, self._seen) + len(text)
        return self.screen[start : self._seen]

    def type(self, text: str) -> None:
        os.write(self.master, text.encode())

    def end(self) -> int:
        self.type("\x04")
        try:
            while os.read(self.master, 4096):
                pass
        except OSError:
            pass  # the other end has closed
        os.close(self.master)
        return self.process.wait(PATIENCE_S)


@pytest.fixture
def counter() -> Counter:
    counter = Counter()
    counter.until(START)
    return counter


def test_a_piece_from_label_to_seal_without_showing_the_labels_number(counter: Counter) -> None:
    counter.type(f"{PACKAGE}\r")
    shown = counter.until("to come: card, box > ")
    assert "label read" in shown
    counter.type(f"{CARD}\r")
    shown += counter.until(BOX_NEXT)
    assert PACKAGE[:8] not in shown
    counter.type(f"box {PACKAGE}\r")
    shown = counter.until(START)
    assert f"box {PACKAGE}" in shown  # what a person types is echoed
    assert "Seal" in shown
    assert counter.end() == 0


def test_a_second_scan_of_the_label_is_never_the_box(counter: Counter) -> None:
    counter.type(f"{CARD}\r{PACKAGE}\r{PACKAGE}\r]C1{PACKAGE}\r")
    counter.until("counts once")
    counter.until(BOX_NEXT)
    counter.type("next\r")
    assert "Look again" in counter.until(START)
    assert counter.end() == 11


def test_several_lines_at_once_are_all_taken(counter: Counter) -> None:
    counter.type(f"{PACKAGE}\r{CARD}\rbox {OTHER}\r")
    assert "Do not seal" in counter.until(START)
    assert counter.end() == 10


def test_the_strip_is_scanned_after_its_word(counter: Counter) -> None:
    counter.type(f"{PACKAGE}\r{CARD}\r")
    counter.until(BOX_NEXT)
    counter.type("strip\r")
    counter.until("Scan the strip")
    counter.until(BOX_NEXT)
    counter.type(f"]C1{PACKAGE}\r")
    shown = counter.until(START)
    assert "Seal" in shown
    assert "(barcode)" in shown
    assert counter.end() == 0


def test_what_does_not_count_is_said_at_once(counter: Counter) -> None:
    counter.type("9780471117094\r")
    assert "ISBN" in counter.until(START)
    counter.type(f"{PACKAGE[:-1]}8\r")
    assert "Not counted" in counter.until(START)
    counter.type("again\r")
    assert "anew" in counter.until(START)
    assert counter.end() == 11


def test_an_s10_item_with_a_numberless_card(counter: Counter) -> None:
    counter.type(f"{S10}\r")
    counter.until("to come: card, box > ")
    counter.type(f"box {S10}\r")
    counter.until("to come: card > ")
    counter.type("\r")
    assert "Seal" in counter.until(START)
    assert counter.end() == 0


def test_typing_errors_can_be_erased(counter: Counter) -> None:
    counter.type(f"{PACKAGE}\r{CARD}\r")
    counter.until(BOX_NEXT)
    counter.type(f"boz\x7fx {PACKAGE}7\x7f\r")
    assert "Seal" in counter.until(START)
    assert counter.end() == 0


def test_the_interrupt_signal_ends_it(counter: Counter) -> None:
    counter.process.send_signal(signal.SIGINT)
    assert counter.process.wait(PATIENCE_S) == 130
    os.close(counter.master)

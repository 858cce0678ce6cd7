"""`counterfoil returned` on a real (pseudo) terminal, with a scanner and a person at it."""

from __future__ import annotations

import os
import pty
import select
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pairing.ledger import Ledger
from tests.ledger.making import card, label, pair

ROOT = Path(__file__).resolve().parent.parent.parent
ENTRY = "import sys; from counterfoil.main import main; sys.argv[0] = 'counterfoil'; main()"
PATIENCE_S = 20


def session(ledger: Path, steps: list[tuple[str, str]]) -> tuple[str, int]:
    """Wait for each text and type what goes with it; the whole screen, and the exit code."""
    try:
        master, slave = pty.openpty()
    except OSError:
        pytest.skip("this root has no pseudo terminals (/dev/pts)")
    process = subprocess.Popen(
        [sys.executable, "-c", ENTRY, "returned", "--ledger", str(ledger), "--desk", "d"],
        stdin=slave,
        stdout=slave,
        stderr=slave,
        env={
            **os.environ,
            "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "cli"))),
            "TERM": "xterm",
            "NO_COLOR": "1",
        },
        close_fds=True,
        start_new_session=True,
    )
    os.close(slave)
    screen, seen = "", 0
    for awaited, typed in steps:
        end = time.monotonic() + PATIENCE_S
        while awaited not in screen[seen:]:
            ready, _, _ = select.select([master], [], [], max(0, end - time.monotonic()))
            assert ready, f"waited for {awaited!r}, saw {screen[seen:]!r}"
            screen += os.read(master, 4096).decode()
        seen = screen.index(awaited, seen) + len(awaited)
        os.write(master, typed.encode())
    while True:
        try:
            chunk = os.read(master, 4096)
        except OSError:  # the other end closed
            break
        if not chunk:
            break
        screen += chunk.decode()
    os.close(master)
    return screen, process.wait(PATIENCE_S)


def test_two_cards_and_the_number_is_not_seen_before_the_box_is_keyed(tmp_path: Path) -> None:
    path = tmp_path / "ledger.db"
    with Ledger.open(str(path)) as ledger:
        ledger.append(pair(1, 1))
        ledger.append(pair(2, 2))
    screen, code = session(
        path,
        [
            ("card > ", card(1) + "\r"),
            ("Enter > ", f"box {label(1)}\r"),
            ("Enter > ", "signed 2031-01-01\r"),
            ("Enter > ", card(2) + "\r"),
            ("Look again", ""),
            ("Enter > ", "\r"),
            ("card > ", "\x04"),
        ],
    )
    assert code == 11
    before_the_box, _, after = screen.partition("box read")
    grouped = " ".join(label(1)[place : place + 4] for place in range(0, 22, 4))
    assert grouped not in before_the_box
    assert card(1) not in screen  # scans are not echoed
    assert f"box {label(1)}" in before_the_box  # what a person types is
    assert grouped in after
    assert "is still to come" in " ".join(after.split())
    assert "shown once the box is read" in after
    with Ledger.open(str(path)) as ledger:
        assert [entry.card for entry in ledger.entries(first=3)] == [card(1), card(2)]

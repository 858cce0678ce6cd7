"""What is said where something cannot be done: where it was, and what to do next."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from pairing.errors import OutputRefused
from pairing.kiosk import secret
from pairing.ledger import Ledger
from tests.cli.calling import call
from tests.cli.terminal import ROOT

ENTRY = "import sys; from counterfoil.main import main; sys.argv[0] = 'counterfoil'; main()"


def test_no_photos_says_where(tmp_path: Path) -> None:
    done = call("photos", tmp_path)
    assert done.code == 13
    assert str(tmp_path) in done.err
    assert "Name photos" in done.err


def test_a_photo_that_is_none_is_counted_in_words(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_text("hello\n")
    assert call("photos", tmp_path).out.rstrip().endswith("; 1 photo skipped")


def test_a_pin_that_could_not_be_stored_is_not_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(path: Path, _: object) -> None:
        raise OutputRefused("No room", where=str(path), remedy="Make some.")

    monkeypatch.setattr(secret, "save", refuse)
    done = call("kiosk", "--secrets", tmp_path / "s.json", "--ledger", tmp_path / "l.db")
    assert done.code == 13
    assert "PIN" not in done.err


def test_a_reader_that_closed_the_pipe_is_no_error() -> None:
    """`counterfoil ... | head -1`: the code that a shell reports of SIGPIPE, and no word."""
    done = subprocess.Popen(
        [sys.executable, "-c", ENTRY, "blindspots", "package"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "cli")))},
    )
    assert done.stdout is not None
    assert done.stderr is not None
    done.stdout.close()
    assert done.stderr.read() == b""
    assert done.wait() == 141
    done.stderr.close()


def test_nothing_is_recorded_whose_verdict_nobody_can_be_shown(tmp_path: Path) -> None:
    """`counterfoil counter < scans >&-`: Python has no standard output then."""
    lines = "9589 0733 6114 0370 4488 73\n9590 9482 5710 5692 1430 58\nend\n"
    done = subprocess.run(
        ["bash", "-c", '"$0" -c "$1" counter --ledger "$2" >&-', sys.executable, ENTRY,
         str(tmp_path / "l.db")],
        input=lines, capture_output=True, text=True, cwd=ROOT, check=False,
        env={**os.environ, "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "cli")))},
    )  # fmt: skip
    assert done.returncode == 13
    assert done.stderr.startswith("Not done: standard output is closed")
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "l.db").exists()


def test_a_word_is_not_grouped_like_a_number(tmp_path: Path) -> None:
    with Ledger.open(str(tmp_path / "l.db")):
        pass
    done = call("ledger", "show", "hello", "--ledger", tmp_path / "l.db")
    assert "knows nothing of HELLO." in done.err

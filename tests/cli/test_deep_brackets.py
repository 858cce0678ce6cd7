"""JSON whose brackets never end: every file that a command takes is refused in one line."""

from __future__ import annotations

from pathlib import Path

import pytest

from pairing.ledger import Ledger
from tests.cli.calling import call

DEEP = b"[" * 200_000
LATER = b'{"member of a later version": '
"""What is passed over is gone through all the same."""


def deep_file(folder: Path, name: str, before: bytes = b"") -> Path:
    path = folder / name
    path.write_bytes(before + DEEP)
    return path


@pytest.fixture
def lot(samples: Path, tmp_path: Path) -> Path:
    """A folder with one small photo."""
    folder = tmp_path / "lot"
    folder.mkdir()
    (folder / "0001-card.jpg").write_bytes((samples / "0001-card.jpg").read_bytes())
    return folder


@pytest.mark.parametrize("before", [b"", b'{"format": ', LATER])
@pytest.mark.parametrize("option", ["--decisions", "--sample"])
def test_a_file_of_the_audit(lot: Path, tmp_path: Path, option: str, before: bytes) -> None:
    given = deep_file(tmp_path, "deep.json", before)
    done = call("audit", lot, "--out", tmp_path / "out", option, given)
    assert done.code == 13
    assert "deep.json" in done.err
    assert len(done.err.splitlines()) <= 3


@pytest.mark.parametrize("before", [b"", LATER])
def test_a_ledgers_lines(tmp_path: Path, before: bytes) -> None:
    Ledger.open(str(tmp_path / "ledger.db")).close()
    given = deep_file(tmp_path, "deep.jsonl", before)
    done = call("ledger", "import", given, "--ledger", tmp_path / "ledger.db")
    assert done.code == 13
    assert "deep.jsonl, line 1" in done.err


@pytest.mark.parametrize("before", [b"", LATER])
def test_a_proof(tmp_path: Path, before: bytes) -> None:
    done = call("ledger", "verify-proof", deep_file(tmp_path, "deep.json", before))
    assert done.code == 13
    assert "not a proof" in done.err


def test_the_kiosks_secrets(tmp_path: Path) -> None:
    given = deep_file(tmp_path, "deep.json")
    ledger = ("--ledger", tmp_path / "ledger.db")
    done = call("kiosk", "--port", 0, "--secrets", given, *ledger)
    assert done.code == 13
    assert "deep.json" in done.err

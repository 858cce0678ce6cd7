"""A ledger that an earlier version wrote still verifies, byte for byte.

`recorded/` holds one small ledger (schema 0001) with every kind of entry, texts that JSON has to
escape, a clock that was set back, names and a photo: the SQLite file, both exports and a piece's
proof. All were written on 2026-11-27 by commit c60a107, before entries were encoded by msgspec.
The files are never made again: what a court or an auditor holds is of this age too.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
import rfc8785

from pairing.ledger import Kind, Ledger, check_proof
from pairing.ledger.entries import decode, encode
from tests.ledger.making import label

RECORDED = Path(__file__).parent / "recorded"
LINES = (RECORDED / "export.jsonl").read_bytes()
ROOT = "beb9aeadc69593061c8bf533fda976bc04182f02e8ffa67d366853dbf36494d7"
KEY = "958f0b5d3e9cfa298c6d025a14e94c2acd1e83eb91ae17119a4e37087e80cda8"


@pytest.fixture
def old(tmp_path: Path) -> Iterator[Ledger]:
    """A copy of the recorded ledger."""
    shutil.copy(RECORDED / "ledger.db", tmp_path / "old.db")
    with Ledger.open(str(tmp_path / "old.db"), must_exist=True) as opened:
        yield opened


def test_an_old_ledger_verifies(old: Ledger) -> None:
    report = old.verify()
    assert report.problem is None
    assert report.root.hex() == ROOT
    assert report.keys == (KEY,)
    assert {one.kind for one in old.entries()} == set(Kind)


def test_an_old_entrys_bytes_are_the_same_when_encoded_again(tmp_path: Path) -> None:
    shutil.copy(RECORDED / "ledger.db", tmp_path / "old.db")
    connection = sqlite3.connect(tmp_path / "old.db")
    stored = [row[0] for row in connection.execute("SELECT canonical FROM entries")]
    connection.close()
    assert len(stored) == 18
    for data in stored:
        assert encode(decode(data, where="recorded")) == data


def test_an_old_ledger_exports_what_it_exported_then(old: Ledger) -> None:
    assert b"".join(old.export_lines(with_particulars=True)) == LINES
    text = "".join(old.export_csv())
    assert text == (RECORDED / "export.csv").read_bytes().decode()


@pytest.mark.parametrize("ending", ["jsonl", "csv"])
def test_an_old_export_is_imported(ending: str, tmp_path: Path) -> None:
    with Ledger.open(str(tmp_path / "new.db")) as ledger:
        if ending == "jsonl":
            assert ledger.import_lines(LINES.splitlines(), where="recorded") == 18
            assert b"".join(ledger.export_lines(with_particulars=True)) == LINES
        else:
            with (RECORDED / "export.csv").open(newline="", encoding="utf-8") as source:
                assert ledger.import_csv(source, where="recorded") == 18
        report = ledger.verify()
        assert report.problem is None
        assert report.root.hex() == ROOT


def test_an_old_proof_holds() -> None:
    found = check_proof((RECORDED / "piece.proof").read_bytes(), trusted_key=KEY)
    assert found.holds
    assert found.piece is not None
    assert found.piece.article == label(3)
    assert found.particulars[3]["name"] == "Zoë Łukasz"


def test_the_recorded_bytes_are_rfc_8785s() -> None:
    """Against the standard library's parser and a library that knows all of RFC 8785."""
    for line in LINES.splitlines():
        assert rfc8785.dumps(json.loads(line)) == line

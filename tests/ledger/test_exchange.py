"""Export, import, backup."""

from __future__ import annotations

import dataclasses
import json
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from pairing.errors import CounterfoilError, LedgerUnusable, TableUnusable
from pairing.findings import Weight
from pairing.ledger import Draft, Kind, Ledger
from pairing.ledger.entries import RecordedFinding, encode
from pairing.ledger.tree import leaf_hash
from pairing.model import Verdict
from tests.ledger.making import Clock, label, pair, returned


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ledger]:
    """A ledger with a bit of everything, of which the tests only read."""
    path = tmp_path_factory.mktemp("filled") / "ledger.db"
    with Ledger.open(str(path), clock=Clock()) as ledger:
        for number in range(600):
            ledger.append(
                pair(number, number, particulars={"name": f"N{number}"} if not number else {})
            )
        ledger.append(pair(1, 900))
        ledger.append(returned(5, 6))
        ledger.append(
            Draft(kind=Kind.NOTE, desk="d\r\ne", operator='"', remark="=1\t;,'\n", key="'k")
        )
        ledger.sign_head()
        yield ledger


def test_json_lines_come_back_exactly(filled: Ledger, tmp_path: Path) -> None:
    lines = list(filled.export_lines(with_particulars=True))
    assert len(lines) == 603 + 1 + 1
    with Ledger.open(str(tmp_path / "copy.db")) as copy:
        assert copy.import_lines(lines, where="lines") == 603
        assert list(copy.export_lines(with_particulars=True)) == lines
        assert list(copy.entries()) == list(filled.entries())
        assert copy.verify() == filled.verify()
        # The copy goes on where the original stands.
        assert not copy.append(pair(7, 7)).may_seal
        assert copy.verify().is_clean


def test_csv_comes_back_exactly(filled: Ledger, tmp_path: Path) -> None:
    path = tmp_path / "ledger.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        file.writelines(filled.export_csv())
    with Ledger.open(str(tmp_path / "copy.db")) as copy:
        with path.open(encoding="utf-8", newline="") as file:
            assert copy.import_csv(file, where=str(path)) == 603
        assert copy.verify().root == filled.verify().root
        assert list(copy.export_csv()) == list(filled.export_csv())


def test_numbers_in_the_csv_stand_in_groups(filled: Ledger) -> None:
    _, line, *_ = filled.export_csv()
    assert ",9200 0000 0000 0000 0000 01," in line


def test_an_import_goes_on_where_the_ledger_stands(filled: Ledger, tmp_path: Path) -> None:
    lines = list(filled.export_lines())
    with Ledger.open(str(tmp_path / "copy.db")) as copy:
        assert copy.import_lines(lines[:100], where="lines") == 100
        assert copy.import_lines(lines, where="lines") == 503
        assert copy.import_lines(lines, where="lines") == 0
        report = copy.verify()
        assert dataclasses.replace(report, gone=()) == filled.verify()
        assert report.gone == (1,)  # the export left its names out


def test_an_import_is_all_or_nothing(filled: Ledger, tmp_path: Path) -> None:
    lines = list(filled.export_lines())
    changed = lines[500].replace(b"clerk 7", b"clerk 8")
    dropped = [*lines[:500], *lines[501:]]
    swapped = [*lines[:500], lines[501], lines[500], *lines[502:]]
    spaced = lines[500].replace(b":", b": ", 1)
    early = [*lines[:500], lines[-1]]
    for wrong in (
        [*lines[:500], changed, *lines[501:]],
        dropped,
        swapped,
        early,
        [*lines[:500], spaced, *lines[501:]],
        [*lines[:500], b"nonsense\n"],
        [lines[0].replace(b'"desk":"desk 1"', b'"desk":1')],
        [lines[0].replace(b'"at":"2026-', b'"at":"26-')],
        [*lines[:500], b"[]\n"],
        [*lines[:500], b'{"head":{}}\n'],
        [*lines[:-1], lines[-1].replace(b'"size":603', b'"size":602')],
    ):
        with Ledger.open(str(tmp_path / "copy.db")) as copy:
            with pytest.raises(TableUnusable):
                copy.import_lines(wrong, where="lines.jsonl")
            assert copy.size() == 0


def test_another_ledgers_entries_are_refused(filled: Ledger, tmp_path: Path) -> None:
    with Ledger.open(str(tmp_path / "other.db")) as other:
        other.append(pair(1, 1))
        with pytest.raises(TableUnusable, match="not of the ledger"):
            other.import_lines(filled.export_lines(), where="lines")
        with pytest.raises(TableUnusable, match="line 1"):
            other.import_csv(["a,b\n", "1,2\n"], where="list.csv")
        assert other.size() == 1


def test_a_backup_while_desks_work_is_one_moment(tmp_path: Path) -> None:
    path, target = tmp_path / "ledger.db", tmp_path / "backup.db"
    stop = threading.Event()

    def work() -> None:
        with Ledger.open(str(path)) as desk:
            number = 10_000
            while not stop.is_set():
                number += 1
                desk.append(pair(number, number))

    with Ledger.open(str(path)) as ledger:
        for number in range(500):
            ledger.append(pair(number, number, remark="x" * 4000))
        ledger.sign_head()
        desk = threading.Thread(target=work)
        desk.start()
        steps: list[tuple[int, int]] = []
        ledger.back_up(target, progress=lambda done, total: steps.append((done, total)))
        stop.set()
        desk.join()
        assert steps[-1][0] == steps[-1][1]
        grown = ledger.size()
    assert {one.name for one in tmp_path.iterdir() if one.name.startswith("backup")} == {
        "backup.db"
    }
    with Ledger.open(str(target)) as copy:
        assert 500 <= copy.size() <= grown
        assert copy.verify().is_clean
        assert copy.verify().heads == 1


def test_a_backup_overwrites_nothing(ledger: Ledger, tmp_path: Path) -> None:
    ledger.append(pair(1, 1))
    target = tmp_path / "there"
    target.write_text("kept")
    with pytest.raises(LedgerUnusable, match="already"):
        ledger.back_up(target)
    assert target.read_text() == "kept"
    with pytest.raises(CounterfoilError):
        ledger.back_up(tmp_path / "no such folder" / "backup.db")


@pytest.mark.parametrize(
    "forged",
    [
        {"written": label(6)},
        {"written": None},
        {"verdict": Verdict.DIFFERS},
        {"kind": Kind.CORRECTED, "refers": 1, "written": label(6)},
        {"findings": (RecordedFinding(code="x", message="x", weight=Weight.CLASH),)},
    ],
)
def test_a_sealed_piece_that_does_not_agree_is_not_brought_in(
    ledger: Ledger, forged: dict[str, Any]
) -> None:
    # A file that was edited, its chain made to fit: no head is signed for its end.
    (first,) = [ledger.append(pair(1, 1)).entry]
    after = leaf_hash(encode(first)).hex()
    entry = replace(first, sequence=2, previous=after, article=label(5), written=label(5))
    entry = replace(entry, **forged)
    with pytest.raises(TableUnusable, match="sealed piece that does not agree"):
        ledger.import_lines([encode(first) + b"\n", encode(entry) + b"\n"], where="lines")
    assert ledger.size() == 1
    assert ledger.verify().is_clean


@pytest.mark.parametrize("sequence", [2, 77, 0, -1, 2**63, 10**30])
def test_names_that_no_entry_committed_itself_to_are_not_taken(
    filled: Ledger, tmp_path: Path, sequence: int
) -> None:
    """They were taken, and the ledger failed its next check; a number that no column holds ended
    with a traceback."""
    lines = list(filled.export_lines(with_particulars=True))
    false = json.loads(lines[-1])
    for changes in ({"sequence": sequence}, {"particulars": {"name": "another"}}):
        changed = json.dumps({**false, **changes}).encode()
        with Ledger.open(str(tmp_path / f"{len(changes)}{'name' in str(changes)}.db")) as copy:
            with pytest.raises(TableUnusable, match="are not those recorded"):
                copy.import_lines([*lines[:-1], changed], where="lines")
            assert copy.size() == 0
            assert copy.verify().is_clean


@pytest.mark.parametrize("refers", [2**63, 10**30, 0, -5])
def test_an_entry_that_refers_to_a_number_that_no_entry_has_is_not_taken(
    filled: Ledger, tmp_path: Path, refers: int
) -> None:
    (first, *_) = filled.entries()
    with Ledger.open(str(tmp_path / "copy.db")) as copy:
        with pytest.raises(TableUnusable, match="a number that no entry has"):
            copy.import_lines([encode(replace(first, refers=refers))], where="lines")
        assert copy.size() == 0

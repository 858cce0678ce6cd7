"""`counterfoil audit`, as it is called: what it says first, and what it says when it cannot."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from counterfoil import exits
from counterfoil.commands.audit import command
from pairing.audit.reports import tables
from pairing.audit.run import review
from pairing.audit.run.rows import rows_in
from pairing.errors import EngineMissing


def audit(*words: str | Path) -> Result:
    return CliRunner().invoke(command, [str(word) for word in words], standalone_mode=False)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Photos, of a kind: a text that is named like one."""
    place = tmp_path / "photos"
    place.mkdir()
    (place / "0001-card.jpg").write_text("hello\n")
    return place


def test_no_photos_at_all_says_where_and_what_to_do(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    done = audit(tmp_path / "empty", "--out", tmp_path / "out")
    assert done.return_value == exits.NOT_DONE
    assert f"There are no photos in {tmp_path / 'empty'}. Name a folder" in done.output


def test_a_file_is_no_folder(tmp_path: Path, folder: Path) -> None:
    done = audit(folder / "0001-card.jpg", "--out", tmp_path / "out")
    assert "This is a file" in str(done.exception)


def test_a_text_named_like_a_photo_is_a_piece_unread(tmp_path: Path, folder: Path) -> None:
    done = audit(folder, "--out", tmp_path / "out")
    assert done.return_value == exits.UNREAD
    assert "1 photo; 1 unusable." in done.output
    assert "1 piece: 0 agree, 0 differ, 1 unread" in done.output
    assert "Unusable: 0001-card.jpg: " in done.output
    # One piece that came by chance: the bound says so, and that it bounds nothing.
    assert "If chance alone chose what was photographed" in done.output
    assert "at most 100 %" in done.output


def test_the_first_photos_of_no_use_are_named_and_the_others_counted(
    tmp_path: Path, folder: Path
) -> None:
    for n in range(2, 7):
        (folder / f"{n:04}-card.jpg").write_text("hello\n")
    done = audit(folder, "--out", tmp_path / "out", "--no-report")
    assert done.output.count("Unusable: ") == 3
    assert "The other 3 are in rows.jsonl" in done.output


def test_decisions_of_another_run_are_told(tmp_path: Path, folder: Path) -> None:
    given = tmp_path / "given.json"
    one = {"piece": "0001", "photos": ["f" * 64], "decision": "confirmed"}
    given.write_text(json.dumps({"format": review.FORMAT, "decisions": [one]}))
    done = audit(folder, "--out", tmp_path / "out", "--decisions", given, "--no-report")
    assert "0 of the pieces are reviewed." in done.output
    assert "1 of the decisions are on no piece here" in done.output


def test_a_ledger_that_is_not_there_is_not_made(tmp_path: Path, folder: Path) -> None:
    """A lot held against an empty one would be never recorded, all of it."""
    url = f"sqlite:///{tmp_path}/mistyped/ledger.db"
    done = audit(folder, "--out", tmp_path / "out", "--ledger", url)
    assert "There is no ledger there" in str(done.exception)
    assert not (tmp_path / "mistyped").exists()


@pytest.mark.parametrize("option", ["--decisions", "--sample", "--expected", "--pieces"])
def test_files_that_are_none(tmp_path: Path, folder: Path, option: str) -> None:
    out = tmp_path / "out"
    absent = str(audit(folder, "--out", out, option, tmp_path / "none").exception)
    assert str(tmp_path / "none") in absent
    other = tmp_path / "other.csv"
    other.write_text("a,b\n1,2\n")
    strange = str(audit(folder, "--out", out, option, other).exception)
    assert str(other) in strange
    for text in (absent, strange):
        assert "Errno" not in text
        assert "Error:" not in text  # no foreign exception's name


def test_a_lot_smaller_than_what_lies_there(tmp_path: Path, folder: Path) -> None:
    (folder / "0002-card.jpg").write_text("hello\n")
    done = audit(folder, "--out", tmp_path / "out", "--lot", "1")
    assert "(2 pieces)" in str(done.exception)


def test_a_missing_extra_is_said_before_the_first_photo(
    tmp_path: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tables, "find_spec", lambda _: None)
    done = audit(folder, "--out", tmp_path / "out", "--parquet")
    assert isinstance(done.exception, EngineMissing)
    assert not (tmp_path / "out").exists()


def test_what_an_earlier_version_left_is_said_and_its_decisions_are_taken_over(
    tmp_path: Path, folder: Path
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "readings.jsonl").write_text('{"format": "counterfoil readings 1"}\n')
    sha256 = hashlib.sha256(b"hello\n").hexdigest()
    decision = {
        "piece": "0001",
        "photos": [sha256],
        "seen": "unread - - -",
        "decision": "confirmed",
        "note": "",
        "by": "ab",
        "at": "2026-11-25T10:00:00Z",
    }
    body = {"format": review.FORMAT, "decisions": [decision]}
    (out / "decisions.json").write_text(json.dumps(body))
    done = audit(folder, "--out", out)
    assert "readings.jsonl was written by an earlier version" in done.output
    (row,) = rows_in(out / "rows.jsonl")
    assert row.review is not None
    assert row.review.decision == "confirmed"

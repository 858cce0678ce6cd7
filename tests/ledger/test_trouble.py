"""When the ledger cannot be written or read: said with what, where and what next, and nothing
is recorded that was not acknowledged."""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from threading import Timer

import pytest

from pairing.errors import LedgerDamaged, LedgerUnusable
from pairing.ledger import Ledger
from tests.ledger.making import pair
from tests.rights import as_nobody

BLOCK = "x" * 2000


def test_a_full_database_loses_nothing_and_goes_on(tmp_path: Path) -> None:
    path = tmp_path / "ledger.db"
    with Ledger.open(str(path)) as ledger:
        ledger.append(pair(0, 0))
        # SQLITE_FULL as from a full disk, without filling one.
        limit = ledger._writer._raw.execute("PRAGMA page_count").fetchone()[0] + 10
        ledger._writer._raw.execute(f"PRAGMA max_page_count = {limit}")
        _fill_until_full(ledger)
        # The limit went with the connection, which is not used again after such an error.
        assert ledger.append(pair(9999, 9999)).may_seal


def test_a_full_disk_loses_nothing_and_goes_on() -> None:
    with _small_disk() as folder, Ledger.open(str(folder / "ledger.db")) as ledger:
        ledger.append(pair(0, 0))
        ballast = folder / "ballast"
        size = os.statvfs(folder).f_bavail * os.statvfs(folder).f_frsize
        ballast.write_bytes(b"x" * (size - 100_000))
        _fill_until_full(ledger)
        ballast.unlink()
        assert ledger.append(pair(9999, 9999)).may_seal
        assert ledger.verify().is_clean


def test_a_new_ledger_that_another_desk_is_just_making_is_waited_for(tmp_path: Path) -> None:
    path = tmp_path / "ledger.db"
    with closing(sqlite3.connect(path, isolation_level=None, check_same_thread=False)) as other:
        other.execute("BEGIN IMMEDIATE")
        Timer(0.3, other.rollback).start()
        with Ledger.open(str(path), patience_s=60) as ledger:
            assert ledger.append(pair(0, 0)).may_seal
        other.execute("PRAGMA journal_mode = DELETE")
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(LedgerUnusable, match="keeps the ledger locked"):
            Ledger.open(str(path), patience_s=0.1)


def _fill_until_full(ledger: Ledger) -> None:
    acknowledged = 1
    with pytest.raises(LedgerUnusable, match=r"full|does not take") as caught:
        for number in range(1, 3000):
            ledger.append(pair(number, number, remark=BLOCK))
            acknowledged = number + 1
    assert ledger.where in str(caught.value)
    assert caught.value.remedy
    assert ledger.size() == acknowledged
    assert ledger.verify().is_clean


@contextmanager
def _small_disk() -> Iterator[Path]:
    folder = Path(tempfile.mkdtemp(prefix="counterfoil-disk-"))
    command = ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(folder)]
    try:
        done = subprocess.run(command, capture_output=True, text=True, check=False)
    except FileNotFoundError:
        pytest.skip("needs `mount`")
    if done.returncode != 0:
        folder.rmdir()
        pytest.skip(f"a small disk cannot be mounted here: {done.stderr.strip()}")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)
        folder.rmdir()


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that any user of the machine reaches."""
    folder = Path(tempfile.mkdtemp(prefix="counterfoil-"))
    folder.chmod(0o777)
    yield folder
    shutil.rmtree(folder)


def test_a_read_only_file_is_said_and_still_read(open_folder: Path) -> None:
    path = open_folder / "ledger.db"
    with Ledger.open(str(path)) as ledger:
        ledger.append(pair(1, 1))
    path.chmod(0o444)
    with as_nobody(), Ledger.open(str(path)) as ledger:
        with pytest.raises(LedgerUnusable, match="may only be read") as caught:
            ledger.append(pair(2, 2))
        assert str(path) in str(caught.value)
        assert "Nothing was recorded" in caught.value.remedy
        assert ledger.size() == 1
        assert ledger.verify().is_clean


def test_a_folder_that_may_not_be_written_is_said(open_folder: Path) -> None:
    open_folder.chmod(0o755 if os.geteuid() == 0 else 0o555)
    with as_nobody(), pytest.raises(LedgerUnusable, match="cannot be opened") as caught:
        Ledger.open(str(open_folder / "ledger.db"))
    assert str(open_folder) in str(caught.value)
    open_folder.chmod(0o755)


def test_a_locked_file_is_said_and_the_offer_can_be_repeated(tmp_path: Path) -> None:
    path = tmp_path / "ledger.db"
    with Ledger.open(str(path), patience_s=0.2) as ledger:
        ledger.append(pair(1, 1))
        with closing(sqlite3.connect(path, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            with pytest.raises(LedgerUnusable, match="locked"):
                ledger.append(pair(2, 2, key="k"))
            assert ledger.size() == 1
            other.execute("ROLLBACK")
        outcome = ledger.append(pair(2, 2, key="k"))
        assert outcome.may_seal
        assert not outcome.is_repeated
        assert ledger.verify().is_clean


def test_a_newer_schema_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "ledger.db"
    Ledger.open(str(path)).close()
    with closing(sqlite3.connect(path, isolation_level=None)) as tool:
        tool.execute("UPDATE alembic_version SET version_num = '0042'")
    with pytest.raises(LedgerUnusable, match=r"newer version .*0042") as caught:
        Ledger.open(str(path))
    assert "Install" in caught.value.remedy


def test_another_programs_tables_are_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "other.db"
    with closing(sqlite3.connect(path)) as tool:
        tool.execute("CREATE TABLE entries (a)")
    before = path.read_bytes()
    with pytest.raises(LedgerUnusable, match="another program"):
        Ledger.open(str(path))
    with closing(sqlite3.connect(path)) as tool:
        assert tool.execute("SELECT name FROM sqlite_schema").fetchall() == [("entries",)]
    assert before[100:] == path.read_bytes()[100:]


def test_what_is_no_database_is_said(tmp_path: Path) -> None:
    path = tmp_path / "letter.txt"
    path.write_text("Dear Sir or Madam, " * 100)
    with pytest.raises(LedgerDamaged, match="damaged") as caught:
        Ledger.open(str(path))
    assert str(path) in str(caught.value)


def test_a_page_of_noise_is_said_by_whatever_meets_it(tmp_path: Path) -> None:
    path = tmp_path / "ledger.db"
    with Ledger.open(str(path)) as ledger:
        for number in range(200):
            ledger.append(pair(number, number))
    with closing(sqlite3.connect(path)) as tool:
        tool.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        (root,) = tool.execute(
            "SELECT rootpage FROM sqlite_schema WHERE name = 'entries'"
        ).fetchone()
    data = bytearray(path.read_bytes())
    data[(root - 1) * 4096 : root * 4096] = b"\xa5" * 4096
    path.write_bytes(data)
    with Ledger.open(str(path)) as ledger:
        report = ledger.verify()
        assert report.problem is not None
        assert report.problem.code == "unreadable"
        with pytest.raises(LedgerDamaged):
            list(ledger.entries())
        with pytest.raises(LedgerDamaged):
            ledger.append(pair(999, 999))


@pytest.mark.parametrize(
    "url", ["sqlite://", "sqlite:///:memory:", "mysql://h/d", "nonsense://", "://"]
)
def test_a_url_that_names_no_ledger_is_said(url: str) -> None:
    with pytest.raises(LedgerUnusable, match="names no place"):
        Ledger.open(url)


@pytest.mark.parametrize(
    "url", ["postgresql://desk:secret@h:port/d", "postgresql://u:a/secret@h:x"]
)
def test_a_url_that_cannot_be_taken_apart_is_said_without_its_password(url: str) -> None:
    with pytest.raises(LedgerUnusable, match="names no place") as caught:
        Ledger.open(url)
    assert "secret" not in str(caught.value)


def test_a_missing_driver_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "psycopg", None)
    with pytest.raises(LedgerUnusable, match="not installed") as caught:
        Ledger.open("postgresql://desk@h/d")
    assert ".[postgres]" in caught.value.remedy


def test_a_server_out_of_reach_is_said_without_its_password(tmp_path: Path) -> None:
    pytest.importorskip("psycopg")
    url = f"postgresql://desk:secret@/x?host={tmp_path}"
    with pytest.raises(LedgerUnusable, match="cannot be reached") as caught:
        Ledger.open(url, files=tmp_path / "key")
    assert "secret" not in str(caught.value)


def test_the_key_is_its_owners_alone(tmp_path: Path) -> None:
    path = tmp_path / "ledger.db"
    key = tmp_path / "ledger.db.key"
    with Ledger.open(str(path)) as ledger:
        ledger.append(pair(1, 1))
        assert not key.exists()  # made on first use
        first = ledger.sign_head()
        assert stat.S_IMODE(key.stat().st_mode) == 0o600
        assert ledger.warnings() == ()
        key.chmod(0o644)
        assert [one.code for one in ledger.warnings()] == ["key-open"]
    with Ledger.open(str(path)) as ledger:
        ledger.append(pair(2, 2))
        second = ledger.sign_head()
    assert first is not None
    assert second is not None
    assert first.key_id == second.key_id
    key.write_text("no key")
    with Ledger.open(str(path)) as ledger:
        with pytest.raises(LedgerUnusable, match="not an Ed25519 key"):
            ledger.sign_head()
        assert ledger.append(pair(3, 3)).may_seal


def test_the_ledger_and_all_beside_it_are_its_owners_alone(tmp_path: Path) -> None:
    """It holds the names of signers, and was readable by all under the usual umask."""
    before = os.umask(0o022)
    try:
        path = tmp_path / "folder" / "ledger.db"
        with Ledger.open(str(path)) as ledger:
            ledger.append(pair(1, 1))
            ledger.sign_head()
            ledger.back_up(tmp_path / "backup.db")
            made = [*path.parent.iterdir(), tmp_path / "backup.db"]
            assert {one.name for one in made} >= {"ledger.db", "ledger.db-wal", "ledger.db.mark"}
            assert {stat.S_IMODE(one.stat().st_mode) for one in made} == {0o600}
            assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700
            assert ledger.warnings() == ()
            path.chmod(0o640)
            assert [one.code for one in ledger.warnings()] == ["ledger-open"]
            path.chmod(0o600)
            path.with_name("ledger.db-wal").chmod(0o644)
            (wide,) = ledger.warnings()
            assert wide.code == "ledger-open"
            assert "ledger.db-wal" in wide.message
    finally:
        os.umask(before)


def test_a_watermark_that_cannot_be_written_denies_nothing(tmp_path: Path) -> None:
    path = tmp_path / "ledger.db"
    (tmp_path / "ledger.db.mark").mkdir()
    with Ledger.open(str(path)) as ledger:
        assert ledger.append(pair(1, 1)).may_seal
        assert ledger.size() == 1

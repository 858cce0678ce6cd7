"""Files that are written whole or not at all are on the disk with their names."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable
from pathlib import Path

import pytest

from pairing import output
from pairing.ledger import Ledger


def _written_new(target: Path) -> None:
    output.write_new(target, [b"x"])


def _replaced(target: Path) -> None:
    output.replace(target, [b"x"])


def _backed_up(target: Path) -> None:
    with Ledger.open(str(target.with_name("ledger.db"))) as ledger:
        ledger.back_up(target)


@pytest.mark.skipif(os.name == "nt", reason="Windows flushes no folders")
@pytest.mark.parametrize("write", [_written_new, _replaced, _backed_up])
def test_the_folder_is_flushed_once_the_file_has_its_name(
    write: Callable[[Path], None], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """POSIX's fsync of a file leaves its name in the folder's unwritten pages; a power cut after
    a new file was reported lost it."""
    target, flushed, flush = tmp_path / "result", [], os.fsync

    def seen(handle: int) -> None:
        flush(handle)
        if stat.S_ISDIR(os.fstat(handle).st_mode) and target.exists():
            flushed.append(os.fstat(handle).st_ino)

    monkeypatch.setattr(os, "fsync", seen)
    write(target)
    assert flushed == [tmp_path.stat().st_ino]

"""Files that are written whole or not at all are on the disk with their names."""

from __future__ import annotations

import errno
import os
import stat
import threading
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from pairing import output
from pairing.errors import OutputRefused
from pairing.ledger import Ledger
from pairing.photos.forms.form_drawing import write_drawing
from pairing.pieces import drawings


def _written_new(target: Path) -> None:
    output.write_new(target, [b"x"])


def _replaced(target: Path) -> None:
    output.replace(target, [b"x"])


def _replaced_or_fed(target: Path) -> None:
    output.replace_or_feed(target, b"x")


def _drawn(target: Path) -> None:
    write_drawing(np.zeros((9, 9, 3), np.uint8), target)


def _pictured(target: Path) -> None:
    drawings._save(target, np.zeros((9, 9, 3), np.uint8))


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


@pytest.mark.parametrize("write", [_replaced, _replaced_or_fed, _drawn, _pictured])
def test_the_old_file_stays_where_the_disk_is_full(
    write: Callable[[Path], None], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A batch's JSON, its pictures and a form's drawing were emptied first and then filled."""

    def is_full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    target = tmp_path / "result.png"
    target.write_bytes(b"old")
    monkeypatch.setattr(os, "fsync", is_full)
    with pytest.raises(OutputRefused, match="No space left"):
        write(target)
    assert target.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [target]


def test_a_link_stays_a_link_and_a_pipe_is_fed(tmp_path: Path) -> None:
    """A shell's `--json >(jq .)` names a pipe."""
    (tmp_path / "there").mkdir()
    (tmp_path / "link").symlink_to("there/result")
    for content in (b"first", b"second"):
        output.replace_or_feed(tmp_path / "link", content)
        assert (tmp_path / "there/result").read_bytes() == content
    assert (tmp_path / "link").is_symlink()
    if not hasattr(os, "mkfifo"):
        pytest.skip("this system has no named pipes")
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    heard: list[bytes] = []
    listener = threading.Thread(target=lambda: heard.append(pipe.read_bytes()))
    listener.start()
    output.replace_or_feed(pipe, b"through")
    listener.join()
    assert heard == [b"through"]
    assert stat.S_ISFIFO(pipe.stat().st_mode)

"""A "photo" whose stand-in decoder tries what a stranger's code would try, and sees it refused."""

from __future__ import annotations

import ctypes
import os
import socket
import subprocess
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from counterfoil import opening
from pairing.photos import confinement
from pairing.photos.worker import PhotoWorker
from pairing.pieces import batch
from pairing.pieces.photo_groups import group

OTHER = Path(__file__).resolve().parents[2] / "LICENSE"


def attempts(path: Path) -> dict[str, str]:
    """What became of each attempt: "" where it was done, else the error."""
    beside = path.parent.parent
    found: dict[str, str] = {"photo": error_of(path.read_bytes)}
    found["network"] = error_of(lambda: socket.socket(socket.AF_INET).connect(("127.0.0.1", 9)))
    found["local socket"] = error_of(lambda: socket.socket(socket.AF_UNIX))
    found["write"] = error_of(lambda: (path.parent / "new").write_text("x"))
    found["overwrite"] = error_of(lambda: path.write_text("x"))
    found["remove"] = error_of(path.unlink)
    found["rename"] = error_of(lambda: path.rename(path.with_name("other")))
    found["another file"] = error_of((beside / "secret.txt").read_bytes)
    found["passwords"] = error_of(Path("/etc/passwd").read_bytes)
    found["another folder"] = error_of(lambda: list(beside.iterdir()))
    found["process"] = error_of(lambda: subprocess.run(["/bin/true"], check=True))
    found["fork"] = error_of(os.fork)
    found["execve"] = error_of(lambda: os.execv("/bin/true", ["true"]))
    found["signal"] = error_of(lambda: os.kill(os.getppid(), 0))
    found["ptrace"] = error_of(lambda: refused_call(101 if os.uname().machine == "x86_64" else 117))
    found["thread"] = error_of(lambda: threading.Thread(target=int).start())
    return found


def error_of(attempt: Callable[[], object]) -> str:
    try:
        attempt()
    except OSError as error:
        return type(error).__name__
    return ""


def refused_call(number: int) -> None:
    libc = ctypes.CDLL(None, use_errno=True)
    if libc.syscall(number, 0, 0, 0, 0) < 0:
        raise OSError(ctypes.get_errno(), "refused")


@pytest.fixture
def photo(tmp_path: Path) -> Iterator[Path]:
    if said := confinement.trouble():
        pytest.skip(said)
    (tmp_path / "secret.txt").write_text("secret")
    path = tmp_path / "photos" / "photo.jpg"
    path.parent.mkdir()
    path.write_bytes(b"a photo")
    yield path
    assert path.read_bytes() == b"a photo"


def test_a_reader_can_do_nothing_but_read_its_photo(photo: Path) -> None:
    """Everything was possible before."""
    with PhotoWorker() as worker:
        found = worker.read(attempts, photo)
    allowed = {name for name, error in found.items() if not error}
    assert allowed == {"photo", "thread"}
    assert set(found.values()) <= {"", "PermissionError"}


def test_a_reader_that_is_given_a_photo_does_not_read_its_folder(photo: Path) -> None:
    """It read every file beside it."""
    beside = photo.with_name("beside.jpg")
    beside.write_bytes(b"another")
    with PhotoWorker(reads=(photo,)) as worker:
        assert worker.read(content_and_listing, photo) == ("", "PermissionError")
        assert worker.read(content_and_listing, beside) == ("PermissionError", "PermissionError")


def content_and_listing(path: Path) -> tuple[str, str]:
    return error_of(path.read_bytes), error_of(lambda: list(path.parent.iterdir()))


def test_the_readers_of_a_batch_are_given_its_photos_by_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Photos in two folders gave all that lies below the folder which holds both."""
    given: list[dict[str, object]] = []

    class Nothing:
        def __init__(self, _workers: int, **more: object) -> None:
            given.append(more)

        def run(self, _tasks: object) -> tuple[()]:
            return ()

    monkeypatch.setattr(batch, "Pool", Nothing)
    paths = tuple(tmp_path / name for name in ("0001-card.jpg", "0001-label.jpg"))
    assert list(batch.read_all(iter(group(paths)))) == []
    assert given == [{"reads": paths, "is_confined": True}]


def test_photos_of_several_folders_are_read_by_few_readers(photo: Path) -> None:
    others = [photo.parent.parent / name / "photo.jpg" for name in "abc"]
    with PhotoWorker() as worker:
        for other in others:
            other.parent.mkdir()
            other.write_bytes(b"another")
        readers = {worker.read(pid_and_read, one) for one in (photo, *others)}
    assert len(readers) <= 2


def pid_and_read(path: Path) -> int:
    assert path.read_bytes()
    return os.getpid()


def test_where_it_cannot_be_done_it_is_said(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.platform", "darwin")
    assert "not confined on this system" in confinement.trouble()
    confinement.confine([])  # and nothing happens
    opening.tell_of_confinement()
    assert "Open only photos that you trust" in capsys.readouterr().err
    assert Path(os.devnull).write_text("x") == 1

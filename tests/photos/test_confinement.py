"""A "photo" whose stand-in decoder tries what a stranger's code would try, and sees it refused."""

from __future__ import annotations

import ctypes
import hashlib
import os
import socket
import subprocess
import threading
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from counterfoil import opening
from pairing.audit.run.sources import Source
from pairing.errors import PhotoUnusable
from pairing.photos import confinement, handed
from pairing.photos.files import frames
from pairing.photos.worker import PhotoWorker
from pairing.pieces.reading import read_photo_at

OTHER = Path(__file__).resolve().parents[2] / "LICENSE"


def attempts(path: Path) -> dict[str, str]:
    """What became of each attempt: "" where it was done, else the error."""
    beside = path.parent.parent
    found: dict[str, str] = {"photo": error_of(lambda: handed.open_photo(path).read())}
    found["the photo's path"] = error_of(path.read_bytes)
    found["its folder"] = error_of(lambda: list(path.parent.iterdir()))
    found["opened anew"] = error_of(lambda: [Path(one).read_bytes() for one in descriptors()])
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


def descriptors() -> list[str]:
    return [f"/proc/self/fd/{one}" for one in handed._handed.values() if isinstance(one, int)]


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


@pytest.fixture(scope="module")
def reader() -> Iterator[PhotoWorker]:
    """A reader for all that leaves it as it was: to start one takes seconds of a core."""
    with PhotoWorker() as made:
        yield made


@pytest.fixture(scope="module")
def unconfined() -> Iterator[PhotoWorker]:
    """Likewise, as on a system where none can be confined."""
    with PhotoWorker(is_confined=False) as made:
        yield made


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


def color_of(path: Path) -> tuple[int, ...]:
    """The shape of a photo's color, asked for when its gray pixels are there."""
    (frame,) = frames(path)
    color = frame.color()
    return () if color is None else color.shape


def test_a_reader_has_the_color_of_its_photo(photo: Path, reader: PhotoWorker) -> None:
    before = photo.read_bytes()
    Image.new("RGB", (60, 40), (200, 60, 30)).save(photo)
    assert reader.read(color_of, photo) == (20, 30, 3)
    photo.write_bytes(before)


def test_a_reader_can_do_nothing_but_read_its_photo(photo: Path) -> None:
    """Everything was possible before."""
    with PhotoWorker() as worker:
        found = worker.read(attempts, photo)
    allowed = {name for name, error in found.items() if not error}
    assert allowed == {"photo", "thread"}
    assert set(found.values()) <= {"", "PermissionError"}


def test_a_reader_of_an_audit_reads_its_photo_and_no_other_of_the_lot(
    photo: Path, reader: PhotoWorker
) -> None:
    """It read whatever lies below the lot's folder."""
    source = Source(root=os.fspath(photo.parent))
    photo.with_name("beside.jpg").write_bytes(b"another")
    found = reader.read(partial(all_of, source, "photo.jpg", "beside.jpg"), Path("photo.jpg"))
    assert found == ("a photo", "PermissionError")
    # The same process, and nothing of its last task.
    found = reader.read(partial(all_of, source, "beside.jpg", "photo.jpg"), Path("beside.jpg"))
    assert found == ("another", "PermissionError")


@handed.opens(lambda source, name, _other, _path: source.files([name]))
def all_of(source: Source, name: str, other: str, _: Path) -> tuple[str, ...]:
    found = []
    for one in (name, other):
        with source.at_hand(one) as file:
            try:
                found.append(handed.open_photo(file).read().decode())
            except OSError as error:
                found.append(type(error).__name__)
    return tuple(found)


@pytest.mark.parametrize("is_own", [True, False])
def test_a_lots_link_to_elsewhere_is_not_followed(
    photo: Path, reader: PhotoWorker, *, is_own: bool
) -> None:
    """A folder that came from a stranger would bring the auditor's own pictures into its report."""
    link = photo.with_name("link.jpg")
    link.symlink_to(photo if is_own else photo.parent.parent / "secret.txt")
    source = Source(root=os.fspath(photo.parent))
    found = reader.read(partial(all_of, source, "link.jpg", "x"), Path("link.jpg"))
    assert found[0] == ("a photo" if is_own else "LeadsOutside")


@handed.opens(lambda source, name, _path: source.files([name]))
def read_of(source: Source, name: str, path: Path) -> object:
    with source.at_hand(name) as file:
        return read_photo_at(None, file)


def test_who_put_a_link_to_elsewhere_into_the_folder_is_told_so(
    photo: Path, reader: PhotoWorker
) -> None:
    """To take the photo again was the advice."""
    photo.with_name("link.jpg").symlink_to(photo.parent.parent / "secret.txt")
    source = Source(root=os.fspath(photo.parent))
    with pytest.raises(PhotoUnusable, match="to a file outside") as found:
        reader.read(partial(read_of, source, "link.jpg"), Path("link.jpg"))
    assert "photo itself" in str(found.value)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (os.mkfifo, "not a regular file"),
        (lambda path: path.symlink_to("/dev/zero"), "not a regular file"),
        (lambda path: path.symlink_to("/dev/tty"), "not a regular file"),
        (Path.mkdir, "a folder"),
        (lambda path: path.symlink_to(path), "symbolic links"),
        (lambda path: path.symlink_to("gone"), "no such file"),
        (lambda path: path.touch(), "is empty"),
    ],
)
@pytest.mark.parametrize("by", ["reader", "unconfined"])
def test_what_is_no_photo_is_not_opened(
    tmp_path: Path,
    make: Callable[[Path], object],
    said: str,
    by: str,
    request: pytest.FixtureRequest,
) -> None:
    """A pipe or a device was said to be an empty file."""
    path = tmp_path / "photo.jpg"
    make(path)
    with pytest.raises(PhotoUnusable, match=said):
        request.getfixturevalue(by).read(partial(read_photo_at, None), path)


def test_photos_of_several_folders_are_read_by_one_reader(photo: Path, reader: PhotoWorker) -> None:
    others = [photo.parent.parent / name / "photo.jpg" for name in "abc"]
    for other in others:
        other.parent.mkdir()
        other.write_bytes(b"another")
    assert len({reader.read(pid_and_read, one) for one in (photo, *others)}) == 1


def pid_and_read(path: Path) -> int:
    assert handed.open_photo(path).read()
    return os.getpid()


@pytest.mark.parametrize("kind", ["png", "tiff", "jpeg", "webp", "gif", "pdf"])
def test_a_photo_that_is_handed_reads_as_one_that_is_opened(
    tmp_path: Path, reader: PhotoWorker, kind: str
) -> None:
    """Two pages where the kind has any; two openings at once have a position each."""
    path = tmp_path / f"photo.{kind}"
    page = Image.effect_noise((97, 61), 90)
    more: dict[str, Any] = {"save_all": True, "append_images": [page.rotate(180)]}
    compression = {"compression": "tiff_lzw"} if kind == "tiff" else {}
    page.save(path, **compression, **(more if kind in ("tiff", "pdf") else {}))
    digests = reader.read(digests_of, path)
    assert digests == digests_of(path)
    assert len(digests) == (2 if kind in ("tiff", "pdf") else 1)


def digests_of(path: Path) -> list[str]:
    found = []
    for one in frames(path):
        with handed.open_photo(path) as file:
            assert len(file.read()) == handed.size_bytes(path)
        found.append(hashlib.sha256(one.gray.tobytes()).hexdigest())
    return found


def test_where_it_cannot_be_done_it_is_said(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.platform", "darwin")
    assert "not confined on this system" in confinement.trouble()
    confinement.confine()  # and nothing happens
    opening.tell_of_confinement()
    assert "Open only photos that you trust" in capsys.readouterr().err
    assert Path(os.devnull).write_text("x") == 1

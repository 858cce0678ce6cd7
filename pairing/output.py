"""Files that are written whole or not at all: a draft beside the target takes its place.

`write_new` never writes over another file; `replacing` puts a new version in the place of the
old one. Both flush the draft to the disk before it gets its name, so that a power cut leaves
the old file or the new one, and never half of either; and the folder after it, so that a name
that was reported is there after one.
"""

from __future__ import annotations

import contextlib
import errno
import io
import os
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, TextIO

from pairing.errors import OutputRefused

_ELSEWHERE = "Name a file in a folder that you may write to."
_ROOM = "Make room, or name a file in another folder."


def check_new(target: Path) -> None:
    """Refuse a target that exists or whose folder may not be written to, before the work.

    Raises OutputRefused.
    """
    if os.path.lexists(target):
        raise OutputRefused(
            "There is a file of that name already",
            where=shown(target),
            remedy="Name another file, or move that one away.",
        )
    check_folder(target)


def check_folder(target: Path) -> None:
    """Refuse a target whose folder is missing or may not be written to. Raises OutputRefused."""
    folder = target.parent
    if not folder.is_dir() or not os.access(folder, os.W_OK):
        raise OutputRefused(
            "The result cannot be written there", where=shown(target), remedy=_ELSEWHERE
        )


def write_new(target: Path, chunks: Iterable[bytes], *, is_private: bool = False) -> int:
    """Write a file that is not there yet; how many bytes. What `chunks` raises leaves no file.

    is_private: only its owner may read it. Raises OutputRefused.
    """
    check_new(target)
    with _draft(target, is_private=is_private, remedy=_ROOM) as (file, place):
        size = sum(map(file.write, chunks))
        _flush(file)
        give_name(place, target)
        flush_folder(target.parent)
    return size


@contextmanager
def replacing(target: Path, *, is_private: bool = False, remedy: str = _ROOM) -> Iterator[BinaryIO]:
    """A draft to write to; at the end of the block it takes the target's place.

    Where the block raises, the target stays as it was. remedy: what to do where it cannot be
    written. Raises OutputRefused.
    """
    with _draft(target, is_private=is_private, remedy=remedy) as (file, place):
        yield file
        _flush(file)
        file.close()  # Windows renames no open file
        place.replace(target)
        flush_folder(target.parent)


@contextmanager
def replacing_text(target: Path, *, remedy: str = _ROOM) -> Iterator[TextIO]:
    """`replacing`, for text (UTF-8, line feeds). Raises OutputRefused."""
    with replacing(target, remedy=remedy) as file:
        text = io.TextIOWrapper(file, encoding="utf-8", newline="\n")
        try:
            yield text
        finally:
            text.detach()


def replace(
    target: Path, chunks: Iterable[bytes], *, is_private: bool = False, remedy: str = _ROOM
) -> None:
    """`replacing`, with what is to be written at hand. Raises OutputRefused."""
    with replacing(target, is_private=is_private, remedy=remedy) as file:
        file.writelines(chunks)


def replace_or_feed(target: Path, data: bytes) -> None:
    """`replace` what a link of that name leads to; a pipe or a device, such as a shell's `>(...)`,
    is written to as it is. Raises OutputRefused."""
    try:
        if target.exists() and not target.is_file():
            target.write_bytes(data)
            return
    except OSError as error:
        raise _refused(target, error, _ELSEWHERE) from error
    replace(Path(os.path.realpath(target)), [data])


def shown(path: Path) -> str:
    """A path as text that can be written anywhere: bytes that are no UTF-8 become `\\xff`, and
    what cannot be printed is spelled out."""
    text = os.fsencode(path).decode("utf-8", "backslashreplace")
    return "".join(
        char if char.isprintable() else char.encode("unicode_escape", "replace").decode()
        for char in text
    )


@contextmanager
def _draft(target: Path, *, is_private: bool, remedy: str) -> Iterator[tuple[BinaryIO, Path]]:
    """An open draft beside the target, which is removed afterward unless it was renamed."""
    try:
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:40]}.")
        place = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                if not is_private and os.name != "nt":  # as any new file is made
                    place.chmod(0o666 & ~_umask())
                yield file, place
        finally:
            with contextlib.suppress(FileNotFoundError):
                place.unlink()
    except OSError as error:
        raise _refused(target, error, remedy) from error


def _refused(target: Path, error: OSError, remedy: str) -> OutputRefused:
    return OutputRefused(
        f"The result cannot be written ({error.strerror or error})",
        where=shown(target),
        remedy=remedy,
    )


def _flush(file: BinaryIO) -> None:
    file.flush()
    os.fsync(file.fileno())


def flush_folder(folder: Path) -> None:
    """Have the folder's names on the disk (POSIX fsync; a new name is in the folder, not in the
    file). Where a folder cannot be flushed, as on Windows and some network disks, nothing is
    done. Raises OSError where the disk fails."""
    if os.name == "nt":
        return
    with contextlib.suppress(PermissionError):  # a folder that may be written to and not read
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        except OSError as problem:
            if problem.errno not in (errno.EINVAL, errno.ENOTSUP, errno.EBADF):
                raise
        finally:
            os.close(handle)


def give_name(draft: Path, target: Path) -> None:
    """Give a whole file its name; a file that came to be there meanwhile is kept. The draft's own
    name may stay. Raises OSError."""
    try:
        os.link(draft, target)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links
        draft.rename(target)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask

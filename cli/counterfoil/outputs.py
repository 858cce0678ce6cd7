"""Files that commands write: whole or not at all, and never over another file."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterable
from pathlib import Path

from counterfoil import show
from pairing.errors import OutputRefused


def check_new(target: Path) -> None:
    """Refuse a target that exists or whose folder may not be written to, before the work."""
    where = show.path_text(target)
    if os.path.lexists(target):
        raise OutputRefused(
            "There is a file of that name already",
            where=where,
            remedy="Name another file, or move that one away.",
        )
    folder = target.parent
    if not folder.is_dir() or not os.access(folder, os.W_OK):
        raise OutputRefused(
            "The result cannot be written there",
            where=where,
            remedy="Name a file in a folder that you may write to.",
        )


def write_new(target: Path, chunks: Iterable[bytes], *, is_private: bool = False) -> int:
    """Write a file that is not there yet; how many bytes. What `chunks` raises leaves no file.

    is_private: only its owner may read it.
    """
    check_new(target)
    try:
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:40]}.")
        part = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                size = sum(map(file.write, chunks))
                file.flush()
                os.fsync(file.fileno())
            if not is_private:  # as it was made
                part.chmod(0o666 & ~_umask())
            _put(part, target)
        finally:
            with contextlib.suppress(FileNotFoundError):
                part.unlink()
    except OSError as error:
        raise OutputRefused(
            f"The result cannot be written ({error.strerror or error})",
            where=show.path_text(target),
            remedy="Make room, or name a file in another folder.",
        ) from error
    return size


def _put(part: Path, target: Path) -> None:
    """Give the whole file its name; a file that came to be there meanwhile is kept."""
    try:
        os.link(part, target)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links
        part.rename(target)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask

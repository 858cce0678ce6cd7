"""The folder of a run: kept for one run at a time, and where the run's store is if not in it.

The lock is filelock's: it is one on Windows too, which `fcntl` of the standard library is not.
"""

from __future__ import annotations

import os
from pathlib import Path

from filelock import FileLock, Timeout

from pairing.errors import OutputRefused

LOCK, PLACE = ".lock", ".results"
"""What keeps a second run out; the store's place, where a server keeps it."""


def locked(folder: Path) -> FileLock:
    """Make the folder if need be, and keep a second run out of it; the system lets go of it when
    the process ends, however it ends. Raises OutputRefused where another run has it."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        lock = FileLock(folder / LOCK)
        lock.acquire(blocking=False)
    except Timeout as error:
        raise OutputRefused(
            "Another run is at work in this folder",
            where=os.fspath(folder),
            remedy="Wait for it to end, or name another folder with --out.",
        ) from error
    except OSError as error:
        raise _refused(folder, error) from error
    return lock


def place_of(folder: Path) -> str:
    """Where the folder's run is kept, "" where in the folder itself."""
    note = folder / PLACE
    try:
        return note.read_text(encoding="utf-8").strip() if note.exists() else ""
    except OSError as error:
        raise _refused(folder, error) from error


def check_place(folder: Path, wanted: str) -> None:
    """Raise OutputRefused where the folder's run is kept in another place than this one."""
    found = place_of(folder)
    if found and found != wanted:
        raise OutputRefused(
            f"The run in this folder is kept in {found}",
            where=os.fspath(folder),
            remedy="Give --results (and --run) as before, or another folder with --out.",
        )


def note_place(folder: Path, place: str) -> None:
    """Note where the folder's run is kept."""
    try:
        (folder / PLACE).write_text(f"{place}\n", encoding="utf-8")
    except OSError as error:
        raise _refused(folder, error) from error


def _refused(folder: Path, error: OSError) -> OutputRefused:
    return OutputRefused(
        f"The run's folder cannot be written ({error.strerror or error})",
        where=os.fspath(folder),
        remedy="Make room, or name a folder that you may write to with --out.",
    )

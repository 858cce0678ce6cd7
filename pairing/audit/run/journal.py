"""The file that a run appends to: one line for each photo, kept whatever ends the run.

A line counts once its line feed is in the file. What a killed run left without one is cut off
when the file is opened again, and that photo is read anew.
"""

from __future__ import annotations

import json
import os
import sqlite3
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from pairing.errors import OutputRefused, TableUnusable

_SYNC_EVERY_S = 2.0
"""A killed process loses nothing that it wrote; a machine that loses power, so many seconds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line of the file: where it begins, its bytes with the line feed, what it says."""

    offset: int
    size: int
    members: dict[str, Any]


class Journal:
    """The open file; one process writes it. Use it in a `with`."""

    def __init__(self, path: Path, head: dict[str, Any]) -> None:
        """head: what the run is; the first line. Raises OutputRefused where the file belongs to
        another run or cannot be written."""
        self.path = path
        self._synced_s = time.monotonic()
        try:
            # Not O_APPEND: the place of each line has to be known, and there is one writer.
            self._file = os.fdopen(os.open(path, os.O_RDWR | os.O_CREAT, 0o644), "r+b", 0)
            self._end = self._cut_torn_end()
            if not self._end:
                self.append(json.dumps(head, ensure_ascii=True))
        except OSError as error:
            raise _refused(path, error) from error
        found = next(iter(self.lines())).members
        if found != head:
            self._file.close()
            raise OutputRefused(
                f"This folder holds another audit ({first_difference(found, head)})",
                where=os.fspath(path),
                remedy="Name another folder with --out, or ask for the same as before.",
            )

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def append(self, text: str) -> Line:
        """Write one line (JSON without a line feed). Raises OutputRefused where the disk is
        full: the line does not count then."""
        data = text.encode("utf-8", "surrogateescape") + b"\n"
        line = Line(offset=self._end, size=len(data), members={})
        try:
            self._file.seek(self._end)
            written = 0
            while written < len(data):
                written += self._file.write(data[written:])
            if time.monotonic() - self._synced_s > _SYNC_EVERY_S:
                os.fsync(self._file.fileno())
                self._synced_s = time.monotonic()
        except OSError as error:
            raise _refused(self.path, error) from error
        self._end += len(data)
        return line

    def lines(self) -> Iterator[Line]:
        """Every whole line from the first on, the head included. Raises TableUnusable for one
        that is no JSON."""
        offset = 0
        with self.path.open("rb") as file:
            for data in file:
                if not data.endswith(b"\n"):
                    return
                yield Line(offset=offset, size=len(data), members=self._parsed(data, offset))
                offset += len(data)

    def at(self, offset: int, size: int) -> dict[str, Any]:
        """The line that begins there."""
        return self._parsed(self._bytes_at(offset, size), offset)

    def text_at(self, offset: int, size: int) -> str:
        """The same as it stands there, without its line feed."""
        return self._bytes_at(offset, size)[:-1].decode("utf-8", "surrogateescape")

    def close(self) -> None:
        """Bring everything to the disk and let go."""
        try:
            os.fsync(self._file.fileno())
            self._file.close()
        except OSError as error:
            raise _refused(self.path, error) from error

    def _bytes_at(self, offset: int, size: int) -> bytes:
        self._file.seek(offset)
        return self._file.read(size) or b""

    def _parsed(self, data: bytes, offset: int) -> dict[str, Any]:
        try:
            members = json.loads(data.decode("utf-8", "surrogateescape"))
            if not isinstance(members, dict):
                raise ValueError("no object")  # noqa: TRY004, TRY301 - told below
        except (ValueError, RecursionError) as error:
            raise TableUnusable(
                f"A line of what was read before is damaged ({error})",
                where=f"{os.fspath(self.path)}, byte {offset}",
                remedy="Name another folder with --out and read the photos again.",
            ) from error
        return members

    def _cut_torn_end(self) -> int:
        """The file's length once whatever follows the last line feed is gone."""
        end = self._file.seek(0, os.SEEK_END)
        place = end
        while place > 0:
            start = max(0, place - 65_536)
            self._file.seek(start)
            found = self._file.read(place - start).rfind(b"\n")
            if found >= 0:
                place = start + found + 1
                break
            place = start
        if place < end:
            self._file.truncate(place)
        return place


class FolderLock:
    """Keeps a second run out of the folder; the system lets go of it when the process ends,
    however it ends."""

    def __init__(self, folder: Path) -> None:
        """Raises OutputRefused where another run has it."""
        try:
            folder.mkdir(parents=True, exist_ok=True)
            self._held = sqlite3.connect(folder / ".lock", timeout=0, isolation_level=None)
            self._held.execute("BEGIN EXCLUSIVE")
        except OSError as error:
            raise _refused(folder, error) from error
        except sqlite3.Error as error:
            raise OutputRefused(
                f"The folder cannot be taken for this run ({error})",
                where=os.fspath(folder),
                remedy="Wait for the other run to end if there is one, or name another folder that "
                "you may write to with --out.",
            ) from error

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._held.close()


def first_difference(found: Mapping[str, Any], head: Mapping[str, Any]) -> str:
    """Words for the first member in which a run that was found is not the one wanted."""
    for name in (*head, *found):
        if found.get(name) != head.get(name):
            return f"{name} was {found.get(name)!r} and is {head.get(name)!r} now"
    return "another order"


def _refused(path: Path, error: OSError) -> OutputRefused:
    return OutputRefused(
        f"The run's folder cannot be written ({error.strerror or error})",
        where=os.fspath(path),
        remedy="Make room, or name a folder that you may write to with --out.",
    )

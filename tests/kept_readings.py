"""Readings of photos, kept for all tests of a session: what the reader makes of a photo is the same
in every test that is about something else, and takes a second of a core each time."""

from __future__ import annotations

import hashlib
import io
import os
import pickle
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import msgspec

from pairing.audit.run.photo_line import PhotoLine, read_line, reader_signature
from pairing.errors import PhotoUnusable
from pairing.photos.forms import folder
from pairing.pieces.reading import changed_meanwhile, read_photo_at

_PLACES: tuple[Callable[[Path], object], ...] = (
    lambda path: path,
    os.fspath,
    lambda path: path.name,
)
"""How a reading names its photo: as a path, as its text, as the file's name."""


class KeptReadings:
    """In a folder that the processes of a session share. Whatever names the photo is put in anew,
    so that a copy of a photo need not be read again."""

    def __init__(self, place: Path) -> None:
        self._place = place
        place.mkdir(exist_ok=True)

    def read(self, read: Callable[[Any, Path], Any], work: Any, path: Path) -> Any:
        """`read(work, path)`, or what it gave for the same bytes before."""
        if isinstance(work, partial) and work.func is read_line:
            return self._line(read, work, path)
        key = _key(work, path)
        if key is None:
            return read(work, path)
        kept = self._place / key
        if kept.exists():
            return _given_back(_Loading(io.BytesIO(kept.read_bytes()), path).load())
        try:
            found = read(work, path)
        except PhotoUnusable as error:
            found = error
            if _key(work, path) != key:  # it changed, or has gone
                raise
        data = io.BytesIO()
        _Saving(data, path).dump(found)
        draft = self._place / f"{key}.{os.getpid()}"
        draft.write_bytes(data.getvalue())
        draft.replace(kept)
        return _given_back(found)

    def _line(self, read: Callable[[Any, Path], Any], work: Any, path: Path) -> Any:
        """The line that a run keeps of a photo; what lists the photo is that of this run."""
        source, wanted = work.args
        key = _named(("line", wanted.shows, reader_signature()), Path(source.root, wanted.photo))
        if key is None:
            return read(work, path)
        kept = self._place / key
        if kept.exists():
            line = msgspec.msgpack.decode(kept.read_bytes(), type=PhotoLine)
            return msgspec.structs.replace(line, **msgspec.structs.asdict(wanted))
        line = read(work, path)
        if line.reading is not None or line.unusable != changed_meanwhile(path).what:
            draft = self._place / f"{key}.{os.getpid()}"
            draft.write_bytes(msgspec.msgpack.encode(line))
            draft.replace(kept)
        return line


def _given_back(found: Any) -> Any:
    """What was read; raises what was raised."""
    if isinstance(found, PhotoUnusable):
        raise found
    return found


def _key(work: Any, path: Path) -> str | None:
    """Of what is known to depend on the photo, the forms and what it is said to show; None for
    all other work."""
    if not isinstance(work, partial) or work.func is not read_photo_at:
        return None
    return _named(work.args, path)


def _named(asked: object, photo: Path) -> str | None:
    """A name for what is asked of a photo's bytes with the forms of now; None where there is no
    such file."""
    digest = hashlib.sha256(repr(asked).encode())
    try:
        forms = sorted(Path(os.environ[folder.VARIABLE]).glob("*"))
        for one in (photo, *forms):
            digest.update(hashlib.sha256(one.read_bytes()).digest())
    except OSError:
        return None
    return digest.hexdigest()


class _Saving(pickle.Pickler):
    def __init__(self, file: io.BytesIO, path: Path) -> None:
        super().__init__(file)
        self._names = [name(path) for name in _PLACES]

    def persistent_id(self, obj: Any) -> int | None:
        """Which of `_PLACES` this is."""
        if not isinstance(obj, str | Path):
            return None
        return next((n for n, name in enumerate(self._names) if obj == name), None)


class _Loading(pickle.Unpickler):
    def __init__(self, file: io.BytesIO, path: Path) -> None:
        super().__init__(file)
        self._path = path

    def persistent_load(self, pid: int) -> object:
        """The same of the photo that is asked for."""
        return _PLACES[pid](self._path)

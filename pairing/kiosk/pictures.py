"""Pictures that were posted, read by the isolated worker; nothing of them is kept."""

from __future__ import annotations

import hashlib
import os
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import chdir, contextmanager
from functools import partial
from pathlib import Path
from typing import TypeVar

from pairing.closing import Closing
from pairing.errors import PhotoUnusable
from pairing.findings import Weight
from pairing.kiosk.camera_box import Frame, beside_print, line_of
from pairing.kiosk.refusals import Refused
from pairing.model import Quad, Side
from pairing.photos import handed
from pairing.photos.worker import PhotoWorker
from pairing.pieces.batch import judge_all
from pairing.pieces.photo_groups import Photo, PhotoPiece
from pairing.pieces.reading import PhotoReadings, read_photo_at, read_piece
from pairing.pieces.report import as_json

Result = TypeVar("Result")

KINDS = {"image/jpeg": ".jpg", "image/png": ".png", "image/webp": ".webp", "image/tiff": ".tif"}
"""Media types that are taken, and the name's ending that the reader knows them by."""

MOST_WAITING = 4
"""Pictures that may wait for the one worker; what comes beyond is told to come again."""

MOST_ARRIVING = 16
"""Pictures that may be in memory at one time, however slowly each comes: 400 MB at most."""

TIMEOUT_S = 20.0
"""Longest reading of a posted picture: a page waits for it."""


class Reader(Closing):
    """One worker, one picture at a time. Its methods serve threads."""

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="counterfoil-")
        self._worker = PhotoWorker(timeout_s=TIMEOUT_S)
        self._turn = threading.Lock()
        self._room = threading.BoundedSemaphore(MOST_WAITING)
        self._arriving = threading.BoundedSemaphore(MOST_ARRIVING)

    def close(self) -> None:
        """End the worker; a later picture starts another one."""
        with self._turn:
            self._worker.close()
            self._folder.cleanup()

    def batch(self, data: bytes, media_type: str, shows: Side | None) -> dict[str, object]:
        """A photo as a batch of one piece, in the command line's JSON shape."""
        ending = _ending(media_type)
        with self._at_work(), self._own_folder() as folder:
            # Its name alone is known here and in the worker: where it lay for that moment is
            # nobody's business.
            path = Path(_written(data, folder, ending).name)
            piece = PhotoPiece(
                name="photo", photos=(Photo(path=path, shows=shows),), is_declared=True
            )
            work = partial(_read_in, folder, shows)
            readings = read_piece(piece, read=lambda photo: self._worker.read(work, photo.path))
        return as_json(judge_all((readings,)))

    def frame(self, data: bytes, media_type: str) -> tuple[Frame, tuple[Quad, ...]]:
        """A camera's frame, and where writing was read in its box. Where its decoders
        contradict each other nothing of it counts; the next frame will do."""
        ending = _ending(media_type)
        digest = hashlib.sha256(data).hexdigest()
        try:
            with self._at_work(), self._own_folder() as folder:
                read = self._worker.read(
                    partial(read_photo_at, None), _written(data, folder, ending)
                )
        except PhotoUnusable:
            return Frame(readings=(), seen=None, digest=digest), ()
        if not read.frames or any(one.weight is not Weight.NOTE for one in read.frames[0].found):
            return Frame(readings=(), seen=None, digest=digest), ()
        first = read.frames[0]
        readings = beside_print(first.readings, first.seen)
        has_bars = any(one.side is Side.BOX for one in readings)
        line = None if has_bars else line_of(first.seen)
        seen = Frame(readings=readings, seen=first.seen, digest=digest, fields=first.fields)
        return seen, (line,) if line else ()

    def worked(self, data: bytes, media_type: str, work: Callable[[Path], Result]) -> Result:
        """What `work` makes of a photo, in the worker. Raises what it raises, and PhotoUnusable."""
        ending = _ending(media_type)
        with self._at_work(), self._own_folder() as folder:
            return self._worker.read(work, _written(data, folder, ending))

    def renew(self) -> None:
        """End the worker; a later picture starts one that may read what is there now."""
        with self._turn:
            self._worker.close()

    def _own_folder(self) -> tempfile.TemporaryDirectory[str]:
        return tempfile.TemporaryDirectory(dir=self._folder.name)

    @contextmanager
    def arriving(self) -> Iterator[None]:
        """Room for one more picture, from before its first byte. Raises Refused."""
        with _within(self._arriving):
            yield

    @contextmanager
    def _at_work(self) -> Iterator[None]:
        """The worker is this picture's alone. Raises Refused where too many wait."""
        with _within(self._room), self._turn:
            yield


@contextmanager
def _within(room: threading.BoundedSemaphore) -> Iterator[None]:
    if not room.acquire(blocking=False):
        raise Refused(
            status=503,
            code="busy",
            message="Other pictures are being read.",
            action="Send it again in a few seconds.",
            headers={"retry-after": "3"},
        )
    try:
        yield
    finally:
        room.release()


def _written(data: bytes, folder: str, ending: str) -> Path:
    path = Path(folder) / f"photo{ending}"
    path.write_bytes(data)
    return path


@handed.opens(lambda folder, _, name: (handed.ToOpen(os.fspath(name), Path(folder) / name),))
def _read_in(folder: str, shows: Side | None, name: Path) -> PhotoReadings:
    """In the worker: the photo of this name in the folder."""
    with chdir(folder):
        return read_photo_at(shows, name)


def _ending(media_type: str) -> str:
    kind = media_type.partition(";")[0].strip().lower()
    if kind not in KINDS:
        raise Refused(
            status=415, code="media-type", message=f"A photo is one of {', '.join(KINDS)}."
        )
    return KINDS[kind]

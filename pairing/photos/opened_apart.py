"""Frames for whoever draws or measures them, opened in a reader's process as those that are read.

No photo is decoded in the process of a command: its decoders are native code, and the photo may be
a stranger's.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from functools import cache, partial
from itertools import count
from pathlib import Path
from threading import Lock

from pairing.errors import PhotoUnusable
from pairing.photos.files import Frame, frames
from pairing.photos.worker import MEMORY_CEILING_BYTES, PhotoWorker

_TURN = Lock()
"""A worker serves one thread at a time."""


def frames_apart(photo: Path) -> Iterator[Frame]:
    """As `files.frames`. Raises PhotoUnusable."""
    for page in count(1):
        with _TURN:
            frame = _worker(os.getpid()).read(partial(_page, page), photo)
        if frame is None:
            return
        yield frame


def first_apart(photo: Path) -> Frame:
    """Its first frame. Raises PhotoUnusable."""
    found = next(frames_apart(photo), None)
    if found is None:
        raise PhotoUnusable(
            "There is no page in it", where=os.fspath(photo), remedy="Take or export it again."
        )
    return found


@cache
def _worker(_process: int) -> PhotoWorker:
    """One for all that a process draws; it ends with the process, and a copy of that has its own.
    It may add twice what a reader may: a frame is copied on its way out."""
    return PhotoWorker(memory_ceiling_bytes=2 * MEMORY_CEILING_BYTES)


def _page(page: int, photo: Path) -> Frame | None:
    """In the worker: the frame, None beyond the last."""
    return next(frames(photo, page), None)

"""Each photo of a piece written out with what was read on it outlined and named."""

from __future__ import annotations

import os
import re
from pathlib import Path

import cv2

from pairing.audit.reading import PhotoReadings, PieceReadings
from pairing.errors import OutputRefused
from pairing.numbers import printed
from pairing.photos.files import frames
from pairing.photos.pictures import Mark, outlined

_UNFIT = re.compile(r"[^\w.-]+")
_JPEG_QUALITY = 88


def write_pictures(piece: PieceReadings, folder: Path) -> tuple[Path, ...]:
    """One JPEG for each frame of the piece's photos; the paths written.

    Raises OutputRefused where the folder cannot be written, PhotoUnusable where a photo has
    gone since it was read.
    """
    return tuple(path for photo in piece.photos for path in _write(piece.piece.name, photo, folder))


def _write(name: str, photo: PhotoReadings, folder: Path) -> list[Path]:
    marks = {
        frame.page: [
            Mark(
                quad=reading.quad,
                side=reading.side,
                words=f"{reading.side.value}: {printed(reading.number)}",
            )
            for reading in frame.readings
            if reading.quad is not None
        ]
        for frame in photo.frames
    }
    written = []
    for frame in frames(photo.photo.path):
        page = "" if len(photo.frames) == 1 else f"-page{frame.page}"
        own = "" if photo.photo.path.stem.startswith(name) else f"{name}-"
        target = folder / _UNFIT.sub("_", f"{own}{photo.photo.path.stem}{page}.jpg")
        picture = outlined(frame.gray, marks.get(frame.page, []))
        done, encoded = cv2.imencode(".jpg", picture, (cv2.IMWRITE_JPEG_QUALITY, _JPEG_QUALITY))
        try:
            folder.mkdir(parents=True, exist_ok=True)
            target.write_bytes(encoded.tobytes() if done else b"")
        except OSError as error:
            raise OutputRefused(
                f"The picture cannot be written ({error.strerror or error})",
                where=os.fspath(target),
                remedy="Name a folder that you may write to.",
            ) from error
        written.append(target)
    return written

"""A returned card from a photo."""

from __future__ import annotations

import hashlib
from datetime import date
from functools import partial
from pathlib import Path

from pairing.desk.card_session import ReadCard
from pairing.errors import PhotoUnusable
from pairing.judge.box import Seen
from pairing.judge.fields import on_return
from pairing.judge.fields import together as fields_together
from pairing.model import Side
from pairing.photos.worker import PhotoWorker
from pairing.photos.written import thresholds, together
from pairing.pieces.reading import changed_meanwhile, read_photo_at


def card_in_photo(path: Path, *, signed: date | None = None, name: str = "") -> ReadCard:
    """Read the one card that a photo shows, in a process of its own. Raises PhotoUnusable."""
    digest = photo_bytes_sha256(path)
    with PhotoWorker() as worker:
        read = worker.read(partial(read_photo_at, Side.CARD), path)
    if read.sha256 != digest:
        raise changed_meanwhile(path)
    seen = together([frame.seen for frame in read.frames if frame.seen])
    fields = fields_together(one for frame in read.frames for one in frame.fields)
    is_signed, is_dated, said = on_return(fields)
    readings = tuple(
        reading
        for frame in read.frames
        for reading in frame.readings
        if reading.side in (Side.CARD, Side.BOX)
    )
    return ReadCard(
        readings=readings,
        found=(*(found for frame in read.frames for found in frame.found), *said),
        signed=signed,
        is_signed=is_signed,
        is_dated=is_dated,
        only_notes=tuple({code: None for one in fields for code in one.only_notes}),
        name=name,
        photos={reading.source: digest for reading in readings} | _of_seen(seen, digest),
        seen=seen,
        thresholds=thresholds() if seen else None,
    )


def _of_seen(seen: Seen | None, digest: str) -> dict[str, str]:
    return {seen.source: digest} if seen else {}


def photo_bytes_sha256(path: Path) -> str:
    """The SHA-256 of a file, in hexadecimal. Raises PhotoUnusable."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise PhotoUnusable(
            f"The photo cannot be read ({error.strerror or error})",
            where=str(path),
            remedy="Check the path.",
        ) from error

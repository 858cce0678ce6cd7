"""What was read, drawn: each photo outlined, each box with its digits, single digits enlarged."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing import output
from pairing.compare import compare
from pairing.errors import OutputRefused, PhotoUnusable
from pairing.findings import Finding
from pairing.judge.box import Seen, Stretch, places
from pairing.model import Verdict
from pairing.numbers import group_sizes, is_number, printed
from pairing.photos.files import Frame
from pairing.photos.opened_apart import frames_apart
from pairing.photos.outlines import Mark, outlined
from pairing.photos.written.shown import Cell, decision, enlarged
from pairing.pieces.batch import PieceResult
from pairing.pieces.placed import source_of
from pairing.pieces.reading import PhotoReadings, PieceReadings

_UNFIT = re.compile(r"[^\w.-]+")
_JPEG_QUALITY = 88
_REMEDY = "Name a folder that you may write to."


def write_pictures(piece: PieceReadings, folder: Path) -> tuple[Path, ...]:
    """One JPEG for each frame of the piece's photos; the paths written.

    Raises OutputRefused where the folder cannot be written, PhotoUnusable where a photo has
    gone since it was read.
    """
    return tuple(path for photo in piece.photos for path in _write(piece.piece.name, photo, folder))


def write_decision(
    piece: PieceReadings, result: PieceResult, folder: Path, *, is_label_held: bool = False
) -> Path | None:
    """A PNG of the box laid flat, what was read in it with probabilities in percent, and the
    label's digits under that (not where is_label_held: a person will key the box); None where no
    box was seen. Raises as `write_pictures` does."""
    if piece.seen is None:
        return None
    target = folder / f"{_fit(piece.piece.name)}-box.png"
    article = None if is_label_held else result.judgment.article
    cells = tuple(_cells(piece.seen, result, article))
    said = result.judgment.verdict
    words = f"{piece.piece.name}: {said.clerk_word} ({said.value})"
    if piece.seen.reason is not None:
        words += f"; {Finding.of(piece.seen.reason.code).message}"
    picture = decision(_frame(piece, piece.seen).gray, piece.seen.box, cells, words)
    _save(target, picture)
    return target


def digit_picture(piece: PieceReadings, stretch: Stretch) -> NDArray[np.uint8]:
    """A stretch of what was read in the box, mostly one digit, by itself, enlarged: gray
    (height, width) uint8. Raises PhotoUnusable where the photo has gone since."""
    seen = piece.seen
    assert seen is not None
    first, last = (seen.digit_quads[at - 1] for at in (stretch.first, stretch.last))
    place = first.through(last)
    return enlarged(_frame(piece, seen).gray, place)


def write_digit(piece: PieceReadings, stretch: Stretch, folder: Path) -> Path:
    """The same as a PNG; its path. Raises OutputRefused too."""
    target = folder / f"{_fit(piece.piece.name)}-digit-{stretch.first:02}.png"
    _save(target, digit_picture(piece, stretch))
    return target


def box_picture(piece: PieceReadings) -> NDArray[np.uint8] | None:
    """The box by itself, enlarged: gray (height, width) uint8; None where no box was seen. Raises
    PhotoUnusable where the photo has gone since."""
    if piece.seen is None:
        return None
    return enlarged(_frame(piece, piece.seen).gray, piece.seen.box)


def write_box(piece: PieceReadings, folder: Path) -> Path | None:
    """The box by itself as a PNG, for a person who is to read it: the label may be in the same
    photo, and must not be before their eyes. None where no box was seen. Raises as
    `write_digit` does."""
    picture = box_picture(piece)
    if picture is None:
        return None
    target = folder / f"{_fit(piece.piece.name)}-box-alone.png"
    _save(target, picture)
    return target


def _cells(seen: Seen, result: PieceResult, article: str | None) -> Iterator[Cell]:
    """What was read beside the label's number, one cell a column of their alignment; by itself
    where article is None."""
    best = seen.evidence.best if seen.evidence else ""
    if not best:
        return
    columns: list[tuple[str, str]] = [(char, "") for char in best]
    if article:
        found = compare(article, best, group_sizes=group_sizes(article), is_valid=is_number).columns
        columns = [(column.box or "", column.label or "") for column in found]
    decision = result.weighed.decision
    differs = decision is not None and decision.verdict is Verdict.DIFFERS
    unsure = decision.doubtful if decision is not None and differs else result.weighed.asks
    running, asked = count(), places(unsure)
    for read, label in columns:
        at = next(running) if read else None
        is_known = at is not None and at < len(seen.digit_quads)
        yield Cell(
            read=read,
            label=label,
            probability=None if at is None else seen.digit_probabilities[at],
            is_doubtful=at is not None and at + 1 in asked,
            place=seen.digit_quads[at] if at is not None and is_known else None,
        )


def _frame(piece: PieceReadings, seen: Seen) -> Frame:
    """The frame in which the box was seen."""
    for photo in piece.photos:
        for frame in frames_apart(photo.photo.path):
            if source_of(frame) == seen.source:
                return frame
    raise PhotoUnusable(
        "The photo of the box is no longer there", where=seen.source, remedy="Check the folder."
    )


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
    for frame in frames_apart(photo.photo.path):
        page = "" if len(photo.frames) == 1 else f"-page{frame.page}"
        own = "" if photo.photo.path.stem.startswith(name) else f"{name}-"
        target = folder / _fit(f"{own}{photo.photo.path.stem}{page}.jpg")
        _save(target, outlined(frame.gray, marks.get(frame.page, [])))
        written.append(target)
    return written


def _fit(name: str) -> str:
    return _UNFIT.sub("_", name)


def _save(target: Path, picture: NDArray[np.uint8]) -> None:
    how = (cv2.IMWRITE_JPEG_QUALITY, _JPEG_QUALITY) if target.suffix == ".jpg" else ()
    done, encoded = cv2.imencode(target.suffix, picture, how)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputRefused(
            f"The picture cannot be written ({error.strerror or error})",
            where=output.shown(target),
            remedy=_REMEDY,
        ) from error
    output.replace(target, [encoded.tobytes() if done else b""], remedy=_REMEDY)

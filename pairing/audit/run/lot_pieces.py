"""The pieces of a lot: how their photos are listed, and what was read on each again from its
photos' lines."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import msgspec

from pairing.audit.run.codec import decoded
from pairing.audit.run.photo_line import PhotoLine
from pairing.errors import PhotoUnusable
from pairing.judge import sides
from pairing.model import Side
from pairing.pieces.photo_groups import Photo, PhotoPiece
from pairing.pieces.reading import PhotoReadings, PieceReadings, read_piece


class NewPiece(msgspec.Struct, frozen=True, kw_only=True):
    """A piece to be made: its name, its photos, whether a list or the photos' names declare it,
    and JSON on how its photos were put together."""

    name: str
    photos: tuple[str, ...]
    is_declared: bool = False
    about: str = ""


class Piece(msgspec.Struct, frozen=True, kw_only=True):
    """A piece: its place in the order of the rows, its name, whether photo names declare it.
    boxes: what its box was read as. about: as in `NewPiece`. shares: whether another piece
    bears one of its numbers. lines: of its photos, in the order of the lot."""

    place: int
    name: str
    is_declared: bool
    article: str | None
    card: str | None
    boxes: tuple[str, ...]
    about: str
    shares: bool = False
    lines: tuple[PhotoLine, ...] = ()


class PieceNumbers(msgspec.Struct, frozen=True, kw_only=True):
    """What was read on the piece at `place` by itself."""

    place: int
    article: str | None
    card: str | None
    boxes: tuple[str, ...]


def piece_of_lines(name: str, lines: Sequence[PhotoLine], *, is_declared: bool) -> PieceReadings:
    """The piece again from its photos' lines."""
    known = {Path(line.photo): line for line in lines}

    def read(photo: Photo) -> PhotoReadings:
        line = known[photo.path]
        if line.reading is None:
            raise PhotoUnusable(line.unusable, where=line.photo, remedy=line.remedy)
        return _named(decoded(line.reading, where=line.photo), photo.path)

    photos = tuple(Photo(path=path, shows=None) for path in known)
    return read_piece(PhotoPiece(name=name, photos=photos, is_declared=is_declared), read=read)


def _named(read: PhotoReadings, path: Path) -> PhotoReadings:
    """What was read of a photo that has another name since."""
    before, now = os.fspath(read.photo.path), os.fspath(path)
    if before == now:
        return read

    def source(text: str) -> str:
        return now + text.removeprefix(before)

    frames = tuple(
        replace(
            frame,
            readings=tuple(replace(one, source=source(one.source)) for one in frame.readings),
            seen=replace(frame.seen, source=source(frame.seen.source)) if frame.seen else None,
        )
        for frame in read.frames
    )
    return replace(read, photo=replace(read.photo, path=path), frames=frames)


def numbers_of(piece: PieceReadings) -> tuple[str | None, str | None]:
    """Its article and card number, as they were read on label and card alone."""
    label, card = sides.label(piece.readings).number, sides.card(piece.readings).number
    return label.text if label else None, card.text if card else None


def texts_in_box(piece: PieceReadings) -> tuple[str, ...]:
    """Every text that its box was read as."""
    found = [one.number.text for one in piece.readings if one.side is Side.BOX]
    if piece.seen is not None and piece.seen.evidence is not None:
        found.append(piece.seen.evidence.best)
    return tuple(dict.fromkeys(text for text in found if text))

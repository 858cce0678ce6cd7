"""From a piece's photos to its readings, each with the side that it is on."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from pairing.errors import CounterfoilError, PhotoUnusable
from pairing.findings import Code, Finding
from pairing.judge.box import Seen, Stretch
from pairing.judge.fields import FieldSeen
from pairing.judge.fields import together as fields_together
from pairing.model import (
    How,
    Number,
    Quad,
    Reading,
    Rejection,
    Role,
    Side,
    Symbol,
    TrackingNumber,
)
from pairing.numbers import symbology
from pairing.photos import handed
from pairing.photos.barcodes import card as cards
from pairing.photos.barcodes.extent import height_in_x
from pairing.photos.barcodes.symbols import SymbolReport, read_symbols
from pairing.photos.files import Frame, frames
from pairing.photos.written import together
from pairing.pieces import office_rules
from pairing.pieces.card_box import label_print, look_in_box
from pairing.pieces.photo_groups import Photo, PhotoPiece
from pairing.pieces.placed import Looked, Placed, source_of
from pairing.pieces.print_witness import by_print, poor_print, print_alone, with_print


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameReadings:
    """One frame of a photo (page from 1): its readings, findings made while reading, and what
    was seen in the card's box, None where the frame shows none."""

    page: int
    readings: tuple[Reading, ...]
    found: tuple[Finding, ...]
    seen: Seen | None = None
    fields: tuple[FieldSeen, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoReadings:
    """A photo's frames. missing: one sentence for each decoder that this machine lacks.
    sha256: the file's digest, in hexadecimal; "" where nobody worked it out."""

    photo: Photo
    frames: tuple[FrameReadings, ...]
    missing: tuple[str, ...]
    sha256: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Skipped:
    """A photo that could not be used, and why."""

    photo: Photo
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceReadings:
    """Everything read on one piece. seen: its box as all photos show it. keyed: what a person
    read there. answers: what a person read in stretches of the text that was seen."""

    piece: PhotoPiece
    photos: tuple[PhotoReadings, ...]
    skipped: tuple[Skipped, ...]
    seen: Seen | None = None
    keyed: tuple[Reading, ...] = ()
    answers: tuple[tuple[Stretch, str], ...] = ()

    @property
    def readings(self) -> tuple[Reading, ...]:
        """The readings of all its photos, and what was keyed."""
        return tuple(one for frame in self._frames for one in frame.readings) + self.keyed

    @property
    def found(self) -> tuple[Finding, ...]:
        """What was found while reading."""
        return tuple(one for frame in self._frames for one in frame.found)

    @property
    def fields(self) -> tuple[FieldSeen, ...]:
        """The other fields of its card, each once."""
        return fields_together(one for frame in self._frames for one in frame.fields)

    @property
    def _frames(self) -> tuple[FrameReadings, ...]:
        return tuple(frame for photo in self.photos for frame in photo.frames)


def read_piece(
    piece: PhotoPiece, *, read: Callable[[Photo], PhotoReadings] | None = None
) -> PieceReadings:
    """Read all photos of a piece. A photo that cannot be used is skipped, never raised.

    read: reads one photo; by default `read_photo`, in this process.
    """
    read = read or read_photo
    photos: list[PhotoReadings] = []
    skipped: list[Skipped] = []
    for photo in piece.photos:
        try:
            photos.append(read(photo))
        except PhotoUnusable as error:
            skipped.append(Skipped(photo=photo, reason=f"{error.what}. {error.remedy}"))
    return PieceReadings(
        piece=piece, photos=tuple(photos), skipped=tuple(skipped), seen=_seen(photos)
    )


def _seen(photos: Sequence[PhotoReadings]) -> Seen | None:
    """The box in all photos together; the same file twice is one photo."""
    distinct: dict[str, PhotoReadings] = {}
    for photo in photos:
        distinct.setdefault(photo.sha256 or os.fspath(photo.photo.path), photo)
    return together(
        [frame.seen for photo in distinct.values() for frame in photo.frames if frame.seen]
    )


def read_photo(photo: Photo, *, file: Path | None = None) -> PhotoReadings:
    """Read every frame of one photo. Raises PhotoUnusable.

    file: where it lies, for a photo that is told of by another name: its own is no text.
    """
    file = file or photo.path
    read: list[FrameReadings] = []
    missing: dict[str, None] = {}
    for opened in frames(file):
        frame = replace(opened, photo=photo.path)
        report = with_print(frame, _symbols(frame))
        placed, own = _placed(frame, report.symbols, photo)
        looked = _looked(frame, placed, own, photo, report.unread)
        read.append(
            FrameReadings(
                page=frame.page,
                readings=looked.readings,
                found=(
                    *report.conflicts,
                    *print_alone(frame, report, photo.shows),
                    *looked.found,
                ),
                seen=looked.seen,
                fields=looked.fields,
            )
        )
        missing.update(dict.fromkeys(report.missing))
    return PhotoReadings(
        photo=photo, frames=tuple(read), missing=tuple(missing), sha256=_sha256(file)
    )


def read_photo_at(shows: Side | None, path: Path) -> PhotoReadings:
    """`read_photo` as a worker takes it: a plain function, so that it can be sent to a process
    of its own. Raises PhotoUnusable."""
    return read_photo(Photo(path=path, shows=shows))


def changed_meanwhile(path: Path) -> PhotoUnusable:
    """For a file whose digest before it was read is not the one after: which of the two was
    read nobody knows."""
    return PhotoUnusable(
        "The photo was changed while it was read",
        where=os.fspath(path),
        remedy="Wait until nothing writes to it any more, and read it again.",
    )


def _sha256(file: Path) -> str:
    try:
        with handed.open_photo(file) as opened:
            return hashlib.file_digest(opened, "sha256").hexdigest()
    except OSError as error:
        raise PhotoUnusable(
            f"The photo has gone while it was read ({error.strerror or error})",
            where=os.fspath(file),
            remedy="Check the folder, and that nothing else is moving photos in it.",
        ) from error


def _looked(
    frame: Frame,
    placed: Sequence[Placed],
    own: cards.Standing | None,
    photo: Photo,
    unread: Sequence[Quad],
) -> Looked:
    try:
        return look_in_box(frame, placed, own, shows=photo.shows, unread=unread)
    except CounterfoilError:
        raise
    except Exception as error:  # what the libraries raise must not end the batch
        raise _unusable("The card's box could not be looked at", frame, error) from error


def _symbols(frame: Frame) -> SymbolReport:
    try:
        return read_symbols(frame.gray)
    except Exception as error:  # a decoder's own errors must not end the batch
        what = "The picture could not be searched for barcodes"
        raise _unusable(what, frame, error) from error


def _unusable(what: str, frame: Frame, error: Exception) -> PhotoUnusable:
    reason = (str(error).splitlines() or [type(error).__name__])[0]
    return PhotoUnusable(
        f"{what} ({reason})",
        where=os.fspath(frame.photo),
        remedy="Take or export the photo again as JPEG or PNG.",
    )


def number_of(symbol: Symbol) -> Number:
    """The number that a symbol bears. Bars other than Code 128 never bear one here."""
    if not symbol.kind.startswith(("Code 128", "GS1-128")):
        reason = Finding.of(Code.OTHER_KIND, what=symbol.kind or symbology.name(symbol.aim))
        return Rejection(given=symbol.text, text=symbol.text, reason=reason)
    return office_rules.identified(symbol.text, aim=symbol.aim)


def _placed(
    frame: Frame, symbols: Sequence[Symbol], photo: Photo
) -> tuple[tuple[Placed, ...], cards.Standing | None]:
    """Each symbol with the side that it is on, and which one is the card's own."""
    seen = [
        (
            cards.Standing(symbol=symbol, height_x=height_in_x(frame.gray, symbol)),
            number_of(symbol),
        )
        for symbol in symbols
    ]
    own = cards.own_barcode([standing for standing, number in seen if _is_card(number)])
    placed = tuple(
        Placed(
            standing=standing,
            reading=Reading(
                side=_side(standing, number, own, photo.shows),
                how=How.BARCODE,
                number=number,
                source=source_of(frame),
                quad=standing.symbol.quad,
                findings=by_print(standing.symbol),
            ),
        )
        for standing, number in seen
    )
    return tuple(_with_print(frame, one) for one in placed), own


def _with_print(frame: Frame, placed: Placed) -> Placed:
    """A label with what its print tells: how good it is, and whether it says what the bars do."""
    reading = placed.reading
    if reading.side is not Side.LABEL:
        return placed
    findings = (
        *reading.findings,
        *poor_print(frame, placed.standing.symbol),
        *label_print(frame, reading),
    )
    return replace(placed, reading=replace(reading, findings=findings))


def _side(
    standing: cards.Standing, number: Number, own: cards.Standing | None, shows: Side | None
) -> Side:
    if standing is own:
        return Side.CARD
    side = cards.place(standing, own, photographed=shows)
    if side is Side.BOX:
        return side
    if isinstance(number, Rejection) and not number.likely:
        return Side.UNPLACED
    return Side.CARD if _is_card(number) else side


def _is_card(number: Number) -> bool:
    return isinstance(number, TrackingNumber) and number.role is Role.CARD

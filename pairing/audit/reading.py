"""From a piece's photos to its readings, each with the side that it stands on."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from pairing.audit.pieces import Photo, PhotoPiece
from pairing.errors import PhotoUnusable
from pairing.model import (
    Finding,
    How,
    Number,
    Reading,
    Rejection,
    Role,
    Side,
    Symbol,
    TrackingNumber,
)
from pairing.numbers import identify, symbology
from pairing.photos import card as cards
from pairing.photos.extent import bar_height_x
from pairing.photos.files import Frame, frames
from pairing.photos.quality import estimate_print
from pairing.photos.symbols import SymbolReport, read_symbols

FAILING_BELOW = 0.5
"""Estimated grade below which print is said to be failing: letter F of ISO/IEC 15416 (bands
from memory). Labels ask for 1.5 and more (from memory), but a photo's blur and light cost an
estimate one or two grades: measured on sample_scans, well-drawn labels come out at 1 to 3."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameReadings:
    """One frame of a photo (page from 1): its readings, and findings made while reading."""

    page: int
    readings: tuple[Reading, ...]
    found: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoReadings:
    """A photo's frames. missing: one sentence for each decoder that this machine lacks."""

    photo: Photo
    frames: tuple[FrameReadings, ...]
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Skipped:
    """A photo that could not be used, and why."""

    photo: Photo
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceReadings:
    """Everything read on one piece. keyed: what a person read in its box."""

    piece: PhotoPiece
    photos: tuple[PhotoReadings, ...]
    skipped: tuple[Skipped, ...]
    keyed: tuple[Reading, ...] = ()

    @property
    def readings(self) -> tuple[Reading, ...]:
        """The readings of all its photos, and what was keyed."""
        return tuple(one for frame in self._frames for one in frame.readings) + self.keyed

    @property
    def found(self) -> tuple[Finding, ...]:
        """What was found while reading."""
        return tuple(one for frame in self._frames for one in frame.found)

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
    return PieceReadings(piece=piece, photos=tuple(photos), skipped=tuple(skipped))


def read_photo(photo: Photo) -> PhotoReadings:
    """Read every frame of one photo. Raises PhotoUnusable."""
    read: list[FrameReadings] = []
    missing: dict[str, None] = {}
    for frame in frames(photo.path):
        report = _symbols(frame)
        read.append(
            FrameReadings(
                page=frame.page,
                readings=tuple(_placed(frame, report.symbols, photo)),
                found=report.conflicts,
            )
        )
        missing.update(dict.fromkeys(report.missing))
    return PhotoReadings(photo=photo, frames=tuple(read), missing=tuple(missing))


def _symbols(frame: Frame) -> SymbolReport:
    try:
        return read_symbols(frame.gray)
    except Exception as error:  # a decoder's own errors must not end the batch
        reason = (str(error).splitlines() or [type(error).__name__])[0]
        raise PhotoUnusable(
            f"The picture could not be searched for barcodes ({reason})",
            where=os.fspath(frame.photo),
            remedy="Take or export the photo again as JPEG or PNG.",
        ) from error


def number_of(symbol: Symbol) -> Number:
    """The number that a symbol bears. Bars other than Code 128 never bear one here."""
    if not symbol.kind.startswith(("Code 128", "GS1-128")):
        return Rejection(
            given=symbol.text,
            text=symbol.text,
            code="other-kind",
            message=f"This is {symbol.kind or symbology.name(symbol.aim)}, "
            "no article or card number.",
            action="",
        )
    return identify(symbol.text, aim=symbol.aim)


def _source(frame: Frame) -> str:
    path = os.fspath(frame.photo)
    return path if frame.page == 1 else f"{path} page {frame.page}"


def _placed(frame: Frame, symbols: Sequence[Symbol], photo: Photo) -> Iterable[Reading]:
    seen = [
        (
            cards.Standing(
                symbol=symbol, height_x=bar_height_x(frame.gray, symbol.quad, symbol.x_px)
            ),
            number_of(symbol),
        )
        for symbol in symbols
    ]
    own = cards.own_barcode([standing for standing, number in seen if _is_card(number)])
    for standing, number in seen:
        side = _side(standing, number, own, photo.shows)
        yield Reading(
            side=side,
            how=How.BARCODE,
            number=number,
            source=_source(frame),
            quad=standing.symbol.quad,
            findings=_print_findings(frame, standing.symbol) if side is Side.LABEL else (),
        )


def _print_findings(frame: Frame, symbol: Symbol) -> tuple[Finding, ...]:
    """A label whose print is failing may not be read on its way."""
    estimate = estimate_print(frame.gray, symbol)
    if estimate is None or estimate.grade >= FAILING_BELOW:
        return ()
    return (
        Finding(
            code="label-print-failing",
            message=estimate.wording,
            action="Print the label anew if the photo is sharp and evenly lit.",
        ),
    )


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

"""From a piece's photos to its readings, each with the side that it stands on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
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
from pairing.photos.files import Frame, frames
from pairing.photos.symbols import read_symbols


@dataclass(frozen=True, slots=True, kw_only=True)
class Skipped:
    """A photo that could not be used, and why."""

    photo: Photo
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceReadings:
    """Everything read on one piece.

    found: findings made while reading. skipped: its photos that could not be used.
    missing: one sentence for each decoder that this machine lacks.
    """

    piece: PhotoPiece
    readings: tuple[Reading, ...]
    found: tuple[Finding, ...]
    skipped: tuple[Skipped, ...]
    missing: tuple[str, ...]


def read_piece(piece: PhotoPiece) -> PieceReadings:
    """Read all photos of a piece. A photo that cannot be used is skipped, never raised."""
    readings: list[Reading] = []
    found: list[Finding] = []
    skipped: list[Skipped] = []
    missing: dict[str, None] = {}
    for photo in piece.photos:
        try:
            for frame in frames(photo.path):
                report = read_symbols(frame.gray)
                readings += _placed(report.symbols, photo, _source(frame))
                found += report.conflicts
                missing.update(dict.fromkeys(report.missing))
        except PhotoUnusable as error:
            skipped.append(Skipped(photo=photo, reason=f"{error.what}. {error.remedy}"))
    return PieceReadings(
        piece=piece,
        readings=tuple(readings),
        found=tuple(found),
        skipped=tuple(skipped),
        missing=tuple(missing),
    )


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
    return frame.photo.name if frame.page == 1 else f"{frame.photo.name} page {frame.page}"


def _placed(symbols: Sequence[Symbol], photo: Photo, source: str) -> Iterable[Reading]:
    numbers = [(symbol, number_of(symbol)) for symbol in symbols]
    own = cards.own_barcode([symbol for symbol, number in numbers if _is_card(number)])
    for symbol, number in numbers:
        yield Reading(
            side=_side(symbol, number, own, photo.shows),
            how=How.BARCODE,
            number=number,
            source=source,
            quad=symbol.quad,
        )


def _side(symbol: Symbol, number: Number, own: Symbol | None, shows: Side | None) -> Side:
    if symbol is own:
        return Side.CARD
    if isinstance(number, Rejection) and not number.likely:
        return Side.UNPLACED
    side = cards.place(symbol, own, photographed=shows)
    return Side.CARD if _is_card(number) and side is not Side.BOX else side


def _is_card(number: Number) -> bool:
    return isinstance(number, TrackingNumber) and number.role is Role.CARD

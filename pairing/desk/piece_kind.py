"""The piece itself: a letter, a flat or a parcel, by its thickness; and whether its label is of a
service for another kind. Pure; never part of a verdict.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from enum import StrEnum
from fractions import Fraction

from pairing.desk.for_whom import Field
from pairing.findings import Code, Finding, Weight
from pairing.model import TrackingNumber
from pairing.numbers import identify


class PieceKind(StrEnum):
    """What a piece is."""

    LETTER = "letter"
    FLAT = "flat"
    PARCEL = "parcel"


LETTER_IN, FLAT_IN = Fraction(1, 4), Fraction(3, 4)
"""Inches that a letter and a flat are thick at most: DMM 201 (June 2014, a public copy), as in
../shared/standards.md 2.6. Length and height have limits too, which are not asked."""

_MM_AN_INCH = Fraction(254, 10)
_THICK = re.compile(r"(\d{1,3}(?:[.,]\d{1,3})?)(?:\s*/\s*(\d{1,3}))?\s*(in|inch|inches|\"|mm|cm)?")

S10_PARCEL, S10_LETTER = "CH", "L"
"""First letters of an S10 item's service indicator that are for parcels (C parcel, H parcel of
electronic commerce) and for letters (L express letter): UPU S10 as of October 2017
(`numbers.s10`). R, V and U cover small packets too, so that they say nothing here."""
PACKAGE_PARCEL = frozenset({"612"})
"""Service type codes that are for parcels: 612 Parcel Select (tracking_number_data, as in
../shared/standards.md 2.2). The other codes that are known are for letters and parcels alike."""


def kind_of(text: str) -> PieceKind | None:
    """What was typed: a kind, its first letter, or a thickness (`1/4`, `0.2 in`, `6 mm`; inches
    where no unit is given); None for anything else."""
    said = text.strip().lower()
    for one in PieceKind:
        if said and said in (one.value, one.value[0]):
            return one
    found = _THICK.fullmatch(said)
    if found is None or (found[2] is not None and not int(found[2])):
        return None
    thick = Fraction(found[1].replace(",", ".")) / int(found[2] or 1)
    if found[3] in ("mm", "cm"):
        thick = thick * (10 if found[3] == "cm" else 1) / _MM_AN_INCH
    if not thick:
        return None
    if thick <= LETTER_IN:
        return PieceKind.LETTER
    return PieceKind.FLAT if thick <= FLAT_IN else PieceKind.PARCEL


def service_for(article: str | None) -> PieceKind | None:
    """The one kind that the service of a label is for; None where it is for more than one or is
    not known."""
    number = identify(article) if article else None
    if not isinstance(number, TrackingNumber):
        return None
    parts = {one.name: one.text for one in number.parts}
    indicator = parts.get("service indicator", "")[:1]
    if indicator and indicator in S10_PARCEL:
        return PieceKind.PARCEL
    if indicator and indicator in S10_LETTER:
        return PieceKind.LETTER
    is_parcel = parts.get("service type code") in PACKAGE_PARCEL
    return PieceKind.PARCEL if is_parcel else None


def notes(article: str | None, about: Mapping[str, str]) -> tuple[Finding, ...]:
    """What is to be said where a parcel's label is on a letter, or a letter's on a parcel."""
    kind, service = kind_of(about.get(Field.PIECE, "")), service_for(article)
    if {kind, service} != {PieceKind.LETTER, PieceKind.PARCEL}:
        return ()
    assert kind is not None and service is not None
    return (
        Finding.of(
            Code.PIECE_KIND_ODD, weight=Weight.NOTE, piece=kind.value, service=service.value
        ),
    )

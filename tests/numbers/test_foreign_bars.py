"""Digits with a symbology identifier are no letter barcode's (ISO/IEC 15424 has no identifier for
four-state postal bars)."""

from __future__ import annotations

from pairing.model import Rejection
from pairing.numbers import identify

LETTER = "0012345678901234567890123456789"
"""31 digits of the shape of a letter barcode with an 11-digit routing code (USPS-B-3200, table 1,
from memory)."""


def test_digits_with_a_symbology_identifier_are_no_letter_barcode() -> None:
    bare, barred = identify(LETTER), identify(LETTER, aim="]C1")
    assert isinstance(bare, Rejection)
    assert isinstance(barred, Rejection)
    assert "letter barcode" in bare.message
    assert "letter barcode" not in barred.message
    assert "31 digits" in barred.message

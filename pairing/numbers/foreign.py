"""Numbers that are something, but nothing that belongs on this mail.

They are named and refused, so that a person who scanned the book inside the parcel is
told what it is and not just "bad number".
"""

from __future__ import annotations

from collections.abc import Callable

from stdnum import ean, isbn, issn

from pairing.numbers.text import is_digits

_IMB_LENGTHS = (20, 25, 29, 31)
"""Letter barcode (IMb): 20 tracking digits, then no, 5, 9 or 11 routing digits; the
second digit is 0 to 4. USPS-B-3200, from memory."""


def kind(text: str) -> str:
    """What `text` (compacted) is, or "" where nothing is recognized. Never raises."""
    for name, holds in _KINDS:
        if holds(text):
            return name
    return ""


def _is_imb(text: str) -> bool:
    return len(text) in _IMB_LENGTHS and is_digits(text) and text[1] in "01234"


def _is_gtin(length: int) -> Callable[[str], bool]:
    return lambda text: len(text) == length and bool(ean.is_valid(text))


_IMB = "what a letter barcode (IMb) holds"


def is_imb(kind: str) -> bool:
    """Whether this is the kind of a letter barcode: four-state bars, which come with no symbology
    identifier (ISO/IEC 15424 has none for them), so that digits with one are something else."""
    return kind == _IMB


_KINDS: tuple[tuple[str, Callable[[str], bool]], ...] = (
    ("an ISBN (a book's number)", lambda text: len(text) in (10, 13) and bool(isbn.is_valid(text))),
    ("an ISSN (a periodical's number)", lambda text: len(text) == 8 and bool(issn.is_valid(text))),
    ("an EAN-13 (an article of trade)", _is_gtin(13)),
    ("a UPC (an article of trade)", _is_gtin(12)),
    ("an EAN-8 (an article of trade)", _is_gtin(8)),
    ("a GTIN-14 (a case of goods)", _is_gtin(14)),
    (_IMB, _is_imb),
)

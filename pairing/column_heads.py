"""What a table's columns are headed on paper and on pages: one wording for one fact. The heads
that programs read are in `csv_tables`; the kiosk's, in three languages, in `kiosk/texts`."""

from __future__ import annotations

from typing import Final

PLACE: Final = "No."
PIECE: Final = "Piece"
ARTICLE: Final = "Article number"
CARD: Final = "Return card's own number"
ARTICLE_AND_CARD: Final = "Article number and card"
MAILED: Final = "Mailed"
ADDRESSEE: Final = "Addressee"
FEE: Final = "Fee"
INQUIRE_BY: Final = "Inquire by"
REMARKS: Final = "Remarks of the accepting office"
READ_BY: Final = "Box read by"
KNOWN_FROM: Final = "Known from"

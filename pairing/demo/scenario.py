"""The demonstration's pieces as data. Place, office, people and numbers are invented.

The Drainage Board of Quillhaven, a town that does not exist, sends notices as
accountable mail; its clerks fill in the cards. The numbers follow the published
structures and carry right check digits, but were made up for this purpose; should
one ever have been given to a real piece, that is chance.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from pairing.model import Verdict


class BoxBy(StrEnum):
    """How the number came into the card's box."""

    STRIP_BARCODE = "strip-barcode"
    STRIP_PRINT = "strip-print"
    HAND = "hand"
    EMPTY = "empty"


class Layout(StrEnum):
    """How the piece was photographed."""

    TWO_PHOTOS = "two photos"
    SIDE_BY_SIDE = "one photo, label to the right of the card"
    LABEL_ABOVE = "one photo, label above the card"
    BOTH_SIDES = "two photos, and one of the card's other side"
    CARD_ALONE = "one photo of the card, which came back"

    @property
    def is_one_photo(self) -> bool:
        """Whether one photo shows label and card."""
        return self in (Layout.SIDE_BY_SIDE, Layout.LABEL_ABOVE)


class CardDesign(StrEnum):
    """Whose card it is. Forms of the board's, with a number and without, come with the
    program; the ferry's box is found by its rules; the harbor's form has to be taught, and so
    do the other fields of the lock office's."""

    BOARD = "board"
    FERRY = "ferry"
    HARBOR = "harbor"
    LOCK = "lock"


ZIP = "98765"
ZIP_PLUS_4 = "987650042"
STREETS = {
    "Corin Thackmire": "17 Osier Bank",
    "Wend & Daughter, Millers": "Tailrace Mill",
    "Isaura Penbrook": "3 Lantern Steps",
    "Lukas Ahrensund": "Bruggen 9, Norrholm",
    "Theda Orrick": "40 Causeway Road",
    "Fenwater Growers": "Long Drove Farm",
    "Marit Solvang-Eik": "Kaien 22, Norrholm",
    "Osric Dunmallow": "8 Staithe Lane",
    "Pella Harrowgate": "26 Heron Terrace",
}
"""Where the addressees live; those in Norrholm abroad."""
SENDER = ("Drainage Board of Quillhaven", "2 Sluice Yard", f"Quillhaven {ZIP}")
SENDERS = {
    CardDesign.BOARD: SENDER,
    CardDesign.FERRY: ("Quill Ferry Company", "Landing Stage", f"Quillhaven {ZIP}"),
    CardDesign.HARBOR: ("Harbor Office of Quillhaven", "1 Mole End", f"Quillhaven {ZIP}"),
    CardDesign.LOCK: ("Lock and Weir Office", "7 Upper Gate", f"Quillhaven {ZIP}"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece of accountable mail and its photos.

    article, card: canonical numbers; card is "" where the card has none.
    box: what a person reads in the box, without blanks in a number.
    box_bars: what the strip's bars say, "" where there are none.
    error: the kind of copying error or obstacle, "" for none.
    routing: the postal code in front of the article number in the label's bars.
    hand: whose writing (`hand.HANDS`); the addressee on the card is by it too.
    second_article: the number on a second sticker beside the label.
    struck: what was written first and struck out.
    is_upside_down: both photos are taken from the other side of the table.
    verdict: the right answer without a person's help: what one can read in the box is read.
    verdict_when_read: the answer once a person has typed what is written in the box.
    design: whose card it is, for a card that is not the board's.
    verdict_when_taught: the answer without a person once the card's form was taught (the
    harbor's number, the lock office's other fields too), where that is another.
    """

    name: str
    purpose: str
    addressee: str
    article: str
    card: str = ""
    box: str = ""
    box_bars: str = ""
    box_by: BoxBy = BoxBy.HAND
    layout: Layout = Layout.TWO_PHOTOS
    error: str = ""
    routing: str = ""
    hand: str = "caveat"
    second_article: str = ""
    struck: str = ""
    is_card_glared: bool = False
    is_dim: bool = False
    is_upside_down: bool = False
    verdict: Verdict = Verdict.AGREES
    verdict_when_read: Verdict = Verdict.AGREES
    design: CardDesign = CardDesign.BOARD
    verdict_when_taught: Verdict | None = None

    @property
    def photos(self) -> tuple[str, ...]:
        """The names of the photos, the label's first."""
        if self.layout.is_one_photo:
            return (f"{self.name}.jpg",)
        if self.layout is Layout.CARD_ALONE:
            return (f"{self.name}-card.jpg",)
        if self.layout is Layout.BOTH_SIDES:
            return (f"{self.name}-label.jpg", f"{self.name}-card-1.jpg", f"{self.name}-card-2.jpg")
        return (f"{self.name}-label.jpg", f"{self.name}-card.jpg")

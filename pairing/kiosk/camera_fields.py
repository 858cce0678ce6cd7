"""A card's other fields in the camera's pictures: addressee, sender, services and the rest.

All pictures of one piece count together, so that a field which the clerk fills in before the
camera is filled. The card's other side has no number to tell whose it is: it counts for the
piece in hand.
"""

from __future__ import annotations

from pairing.findings import Finding
from pairing.judge.fields import FieldSeen, before_mailing, together
from pairing.kiosk.camera_box import Frame
from pairing.model import Side


class CardFields:
    """The fields of the card of one piece. seen: each once."""

    def __init__(self) -> None:
        self.seen: tuple[FieldSeen, ...] = ()

    def add(self, frame: Frame, card: str | None) -> None:
        """Take what one picture shows, unless it shows another card. card: the number of the
        card in hand, None where it was not read yet."""
        shown = {one.number.text for one in frame.readings if one.side is Side.CARD}
        if not shown or card is None or shown == {card}:
            self.seen = together((*self.seen, *frame.fields))

    @property
    def found(self) -> tuple[Finding, ...]:
        """What is to be said of the card before it goes out."""
        return before_mailing(self.seen)

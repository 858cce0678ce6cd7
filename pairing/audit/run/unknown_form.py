"""Whether the first cards of a lot are all of one form that is not known: better learned before
ten thousand of them are read than after.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import msgspec

from pairing.audit.run.codec import decoded
from pairing.audit.run.photo_line import PhotoLine
from pairing.audit.run.sources import Source
from pairing.errors import PhotoUnusable
from pairing.judge.box import Unread
from pairing.model import Side
from pairing.photos import handed
from pairing.photos.files import frames
from pairing.photos.forms import folder
from pairing.photos.forms.registration import registered
from pairing.photos.forms.shared_print import FEWEST, same_cards
from pairing.pieces.reading import PhotoReadings

FIRST = 24
"""So many cards are looked at before anything is said."""
DOZEN = 12
_MOST_UNREAD = 0.5
"""Where more of the first cards than this were not read, it is looked into."""


def is_box_unread(line: PhotoLine) -> bool:
    """Whether the photo shows a card whose box was not read: with its form taught it may be."""
    return line.reading is not None and _is_unread(decoded(line.reading, where=line.photo))


def given_up(lines: Iterable[PhotoLine]) -> Iterator[PhotoLine]:
    """The lines of cards whose box was not read, as of no reader: they are to be read again, since
    their form may have been taught."""
    return (msgspec.structs.replace(line, reader="") for line in lines if is_box_unread(line))


def _is_unread(read: PhotoReadings) -> bool:
    reasons = (one.seen.reason for one in read.frames if one.seen is not None)
    return any(reason not in (None, Unread.EMPTY) for reason in reasons)


@dataclass(slots=True)
class FirstCards:
    """Counts a lot's first cards in. unread: photos of those whose box was not read."""

    cards: int = 0
    unread: list[str] = field(default_factory=list)

    def add(self, line: PhotoLine) -> bool:
        """Count a photo in; True once, when there are enough cards and most were not read."""
        if self.cards >= FIRST or line.reading is None:
            return False
        read = decoded(line.reading, where=line.photo)
        sides = {one.side for frame in read.frames for one in frame.readings}
        is_card = Side.CARD in sides or any(frame.seen is not None for frame in read.frames)
        self.cards += is_card
        if _is_unread(read):
            self.unread.append(line.photo)
        is_most = len(self.unread) > max(FEWEST, _MOST_UNREAD * FIRST)
        return is_card and self.cards == FIRST and is_most


@handed.opens(lambda source, photos, _: source.files(photos))
def of_unknown_form(source: Source, photos: Sequence[str], _: Path) -> tuple[str, ...]:
    """Those of the photos that show one and the same card, of a form that is not known; () where
    they are not most of them. Sets the working folder: for a process of its own."""
    index, pictures = folder.index(), []
    for photo in photos:
        try:
            with source.at_hand(photo) as file:
                gray = next(iter(frames(file))).gray
        except PhotoUnusable:
            continue
        if registered(gray, index) is None:
            pictures.append((photo, gray))
    same = same_cards([gray for _, gray in pictures])
    return tuple(pictures[at][0] for at in same) if len(same) > len(photos) / 2 else ()


def command(source: Source, photos: Sequence[str]) -> str:
    """What teaches the form that these photos' cards have, from a dozen of them."""
    some = photos[:DOZEN]
    paths = (photo if source.is_remote else str(Path(source.root) / photo) for photo in some)
    return f"counterfoil form learn NAME --filled {shlex.join(paths)}"

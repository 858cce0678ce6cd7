"""What photos were not read, and why, counted while a run reads them: nobody should learn after the
last photo what the first hundred say."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from pairing.audit.run.codec import decoded
from pairing.audit.run.photo_line import PhotoLine
from pairing.findings import Code
from pairing.model import Side
from pairing.pieces.reading import PhotoReadings

NOTHING = "nothing-read"
"""The cause of a photo on which no number and no box was found."""


@dataclass(slots=True)
class ReadingTally:
    """Photos read so far, and those of them that are of no use, bear no number, or show a box that
    was not read, by cause (a finding's code, or `NOTHING`). A box that is in doubt is not among
    them: only beside the label it is known what that comes to."""

    photos: int = 0
    causes: Counter[str] = field(default_factory=Counter)

    def add(self, line: PhotoLine) -> None:
        """Count a photo in."""
        self.photos += 1
        cause = _cause(line)
        if cause is not None:
            self.causes[cause] += 1

    @property
    def unread(self) -> int:
        """How many have a cause."""
        return self.causes.total()


def _cause(line: PhotoLine) -> str | None:
    if line.reading is None:
        return Code.PHOTO_SKIPPED
    read = decoded(line.reading, where=line.photo)
    sides = {one.side for frame in read.frames for one in frame.readings}
    if Side.BOX in sides:
        return None
    seen = [frame.seen for frame in read.frames if frame.seen is not None]
    if any(one.evidence is not None for one in seen):
        return None
    reasons = [one.reason.code for one in seen if one.reason is not None]
    return reasons[0] if reasons else _without_box(read, sides)


def _without_box(read: PhotoReadings, sides: set[Side]) -> str | None:
    """Of a photo that shows no box: nothing is wrong where it shows the label."""
    if Side.LABEL in sides:
        return None
    return Code.BOX_UNREAD if Side.CARD in sides else NOTHING
